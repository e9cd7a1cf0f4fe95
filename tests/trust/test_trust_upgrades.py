"""A logbook made by any released schema opens, keeps its rows, and goes on."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldvoice.logbook.drafts import save_step, waiting_drafts
from fieldvoice.logbook.entries import log_rows
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.schema import STEPS
from fieldvoice.review import decisions
from tests.makers import MAY, query
from tests.trust.releases import FIXTURES, KEPT, file_of, make_release
from tests.trust.worth import all_of, faults_in

RELEASES = [path.name.partition(".")[0] for path in sorted(FIXTURES.glob("*.db.gz"))]


def test_every_released_schema_has_its_logbook() -> None:
    """The newest step is released with the next one at the latest."""
    assert [step.__name__ for step in STEPS if not file_of(step.__name__).exists()] in (
        [], [STEPS[-1].__name__],
    )  # fmt: skip


@pytest.mark.parametrize("release", RELEASES)
def test_it_opens_and_keeps_its_rows(tmp_path: Path, release: str) -> None:
    path = make_release(release, tmp_path / "log.db")
    steps = [step.__name__ for step in STEPS]
    had = steps[: steps.index(release) + 1]
    assert [name for (name,) in query(path, "SELECT name FROM _sqlite_migrations")] == had
    before = all_of(path)
    tables = {name for (name,) in query(path, "SELECT name FROM sqlite_schema")}
    kept = {table: query(path, f"SELECT * FROM {table}") for table in tables & set(KEPT)}
    assert before["log"].total() == 6
    assert before["drafts"].total() == 12
    assert kept

    with open_logbook(path) as logbook:
        assert len(log_rows(logbook)) == 6
        assert len(waiting_drafts(logbook)) == 5
    assert [name for (name,) in query(path, "SELECT name FROM _sqlite_migrations")] == steps
    assert all_of(path) == before
    for table, rows in kept.items():
        columns = len(rows[0])  # a later step may have added some
        assert [row[:columns] for row in query(path, f"SELECT * FROM {table}")] == rows
    assert faults_in(path) == []

    with open_logbook(path) as logbook:
        plain = [d for d in waiting_drafts(logbook) if d.entry.hive in (None, "7", "8", "9")]
        save_step(logbook, decisions.confirm(plain, MAY))
        assert len(log_rows(logbook)) == 6 + len(plain)
    assert faults_in(path) == []
