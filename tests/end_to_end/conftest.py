"""Fixtures: the command with a home of its own, and the demo's logbook."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from keeper import Call, Outcome, call


@pytest.fixture
def fieldvoice(tmp_path: Path) -> Call:
    """Call the installed command; `logbook` names one, else the home's own is used."""
    home = tmp_path / "home"
    home.mkdir()

    def run(*words: str | Path, logbook: Path | None = None, **more: Any) -> Outcome:
        first = ("--logbook", logbook) if logbook else ()
        return call(*first, *words, home=home, **more)

    return run


@pytest.fixture
def logbook(demo_log: Path, tmp_path: Path) -> Path:
    """A copy of the demo's logbook, to be changed at will."""
    copy = tmp_path / "logbook.db"
    shutil.copy(demo_log, copy)
    return copy
