"""For all tests: the demo heard once; hypothesis measures no time, its first example loads a model."""

from __future__ import annotations

import os
import subprocess
import tomllib
from pathlib import Path

import pytest
from hypothesis import settings
from makers import COMMAND

from fieldvoice.locate import shipped

settings.register_profile("fieldvoice", deadline=None)
settings.load_profile("fieldvoice")


@pytest.fixture(scope="session")
def demo_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's recordings, heard and drafted by the installed command; copy it, change nothing."""
    path = tmp_path_factory.mktemp("demo") / "log.db"
    folder = shipped("demo")
    yards = tomllib.loads((folder / "yards.toml").read_text(encoding="utf-8"))["yard"]
    hives = [["hives", "add", "--yard", yard["name"], *yard["hives"]] for yard in yards]
    sound = [
        ["add", "--yard", yard["name"], *(folder / name for name in yard["recordings"])]
        for yard in yards
    ]
    for words in hives + sound:
        subprocess.run(
            [COMMAND, "--logbook", path, *words],
            check=True,
            env=os.environ | {"TZ": "UTC"},
            capture_output=True,
        )
    return path
