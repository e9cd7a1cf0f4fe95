"""Fixtures: the command with a home of its own, and a season's logbook."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from keeper import DEMO, NAMES, Call, Outcome, call, gold_of


@pytest.fixture
def fieldvoice(tmp_path: Path) -> Call:
    """Call the installed command; `logbook` names one, else the home's own is used."""
    home = tmp_path / "home"
    home.mkdir()

    def run(*words: str | Path, logbook: Path | None = None, **more: Any) -> Outcome:
        first = ("--logbook", logbook) if logbook else ()
        return call(*first, *words, home=home, **more)

    return run


@pytest.fixture(scope="session")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook with the register and all three recordings added; copy it, do not change it."""
    home = tmp_path_factory.mktemp("season")
    logbook = home / "logbook.db"
    for gold in map(gold_of, NAMES):
        call("--logbook", logbook, "yard", "add", gold["yard"], home=home)
    for gold in map(gold_of, NAMES[:2]):
        added = call(
            "--logbook",
            logbook,
            "hives",
            "add",
            "--yard",
            gold["yard"],
            *gold["register"],
            home=home,
        )
        assert added.code == 0, added.err
    for name in NAMES:
        recording = DEMO / f"{name}.ogg"
        added = call(
            "--logbook", logbook, "add", recording, "--yard", gold_of(name)["yard"], home=home
        )
        assert added.code == 0, added.err
    return logbook


@pytest.fixture
def logbook(season: Path, tmp_path: Path) -> Path:
    """A copy of the season's logbook, to be changed at will."""
    copy = tmp_path / "logbook.db"
    shutil.copy(season, copy)
    return copy
