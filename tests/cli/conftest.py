"""The installed command, and logbooks for it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "logbook"))
from makers import COMMAND


@dataclass(frozen=True, slots=True)
class Done:
    """How a call of the command ended."""

    code: int
    out: str
    err: str

    def json(self) -> Any:
        return json.loads(self.out)

    def sentence(self) -> str:
        """The one line that says what is wrong; code 2 and nothing else on stderr."""
        assert self.code == 2, (self.code, self.out, self.err)
        (line,) = self.err.splitlines()
        assert line.startswith("fieldvoice: ")
        return line


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "log.db"


@pytest.fixture
def command(path: Path) -> Callable[..., Done]:
    """Call the installed command on the test's logbook, with `answers` on stdin."""

    def call(*words: str | Path, answers: str = "") -> Done:
        done = subprocess.run(
            [COMMAND, *words],
            input=answers,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
            env=os.environ | {"FIELDVOICE_LOGBOOK": str(path), "COLUMNS": "100"},
        )
        assert "Traceback" not in done.stdout + done.stderr
        return Done(done.returncode, done.stdout, done.stderr)

    return call
