"""The invented year in a logbook, and what was said in it, row by row."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent.parent / "demo"))
sys.path.insert(0, str(Path(__file__).parent.parent / "logbook"))

import season as invented

from fieldvoice.answers.ask import Ask
from fieldvoice.logbook.medicines import LabelRecord, add_label
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register import need_hive
from fieldvoice.settings import Settings

NOON = datetime(2025, 8, 1, 12, tzinfo=timezone(timedelta(hours=-4)))
STRIPS = LabelRecord(
    "Strips", "amitraz strip", "leaflet in the packet", "amitraz", "", 42, 56,
    supers="off", days_before_supers=14, withdrawal_days=0, dated="2024",
)  # fmt: skip
PADS = LabelRecord(
    "Pads", "formic acid", "leaflet", days_min=14, days_max=14, high_c=20.0, supers="allowed",
    withdrawal_days=0,
)  # fmt: skip


@pytest.fixture(scope="session")
def year() -> tuple[invented.Visit, ...]:
    return invented.season()


@pytest.fixture(scope="session")
def season_path(tmp_path_factory: pytest.TempPathFactory, year: Any) -> Path:
    """The invented year as a file, with two label records; never written to afterwards."""
    path = tmp_path_factory.mktemp("season") / "log.db"
    with open_logbook(path, create=True) as logbook:
        invented.load(logbook, year)
        add_label(logbook, STRIPS, NOON)
        add_label(logbook, PADS, NOON)
    return path


@pytest.fixture(scope="session")
def logbook(season_path: Path) -> Iterator[Any]:
    with open_logbook(season_path) as opened:
        yield opened


@pytest.fixture(scope="session")
def ask(logbook: Any) -> Callable[..., Ask]:
    """A question's frame: ask("2025-10-08", yard="orchard")."""

    def frame(
        today: str, hive: str | None = None, yard: str | None = None, since: str | None = None,
        until: str | None = None, **settings: str,
    ) -> Ask:  # fmt: skip
        return Ask(
            logbook, date.fromisoformat(today), Settings(**settings),
            date.fromisoformat(since) if since else None,
            date.fromisoformat(until) if until else None,
            yard, need_hive(logbook, hive) if hive else None,
        )  # fmt: skip

    return frame


@pytest.fixture(scope="session")
def said(year: Any) -> Callable[..., list[tuple[date, str, Any]]]:
    """All rows (day, yard, entry) up to a day, oldest first, straight from the invention."""

    def rows(until: str, **wanted: str) -> list[tuple[date, str, Any]]:
        return [
            (visit.at.date(), visit.yard, entry)
            for visit in year
            for entry in visit.entries
            if visit.at.date() <= date.fromisoformat(until)
            and all(getattr(entry, name) == value for name, value in wanted.items())
        ]

    return rows
