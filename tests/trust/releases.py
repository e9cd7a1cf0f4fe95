"""Logbooks as every released schema made them: python -m tests.trust.releases

A file in `fixtures/` is made once, by the steps of the schema up to the one it is named
after, and never made anew: it is what keepers have on their disks. Run this after a step
was added, before it is released.
"""

from __future__ import annotations

import contextlib
import gzip
import json
import sqlite3
import tempfile
from pathlib import Path
from typing import Any

from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.schema import STEPS
from tests.makers import MAY
from tests.trust.worth import make_logbook

FIXTURES = Path(__file__).parent / "fixtures"
_AT = "2026-05-03T07:30:00Z"

# What the program of each step kept beside the rows that all have.
KEPT: dict[str, tuple[Any, ...]] = {
    "inbox": ("a" * 64, "/recorder/1.ogg", 7, 7, None, "", _AT),
    "windows": ("talk.ogg|0", json.dumps({"words": ["two", "quarts"]}), _AT),
    "respellings": (1, "resp-1", "robbing guard", "robbing board", 1, _AT),
    "waveforms": (1, bytes(range(32))),
    "label_records": (
        1, "label-1", "Strips", "amitraz strip", "", "strip", 42, 56, None, None, "off", 14, 0,
        "leaflet, 2024", "", _AT,
    ),
    "medicine_purchases": (1, "buy-1", "Strips", "B7", "2026-04-01", "2 packs", "the shop", _AT),
    "medicine_notes": (1, "note-1", "entry-1", "batch", "B7", _AT),
    "due_decisions": (1, "due-1", "plan-1", "dropped", None, None, None, "not needed", _AT),
}  # fmt: skip


def file_of(step: str) -> Path:
    """The fixture of the schema whose newest step this is."""
    return FIXTURES / f"{step}.db.gz"


def make_release(step: str, path: Path) -> Path:
    """The logbook that the fixture of a step holds."""
    path.write_bytes(gzip.decompress(file_of(step).read_bytes()))
    return path


def _tables(database: sqlite3.Connection, schema: str) -> list[str]:
    rows = database.execute(
        f"SELECT name FROM {schema}.sqlite_schema WHERE type = 'table' AND sql NOT LIKE '%VIRTUAL%'"
    ).fetchall()
    return [n for (n,) in rows if not n.startswith(("sqlite_", "_sqlite", "entries_fts"))]


def build(number: int) -> bytes:
    """A logbook whose schema ends with the step of that number, with a few rows of each table."""
    from sqlite_utils import Database, Migrations

    with tempfile.TemporaryDirectory() as folder:
        newest = make_logbook(Path(folder) / "newest.db", rows=8, waiting=4)
        with open_logbook(newest) as logbook:
            for table, row in KEPT.items():
                marks = ", ".join("?" for _ in row)
                logbook.execute(f"INSERT INTO {table} VALUES ({marks})", row)
            logbook.conn.commit()
        path = Path(folder) / "release.db"
        steps = Migrations("fieldvoice")
        for step in STEPS[:number]:
            steps()(step)
        with contextlib.closing(sqlite3.connect(path)) as database:
            database.execute("PRAGMA journal_mode = WAL")
            steps.apply(Database(database, execute_plugins=False))
            database.commit()
            database.execute("ATTACH ? AS newest", [str(newest)])
            for table in _tables(database, "main"):
                columns = ", ".join(
                    row[1] for row in database.execute(f"PRAGMA main.table_info({table})")
                )
                database.execute(
                    f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM newest.{table}"
                )
            database.commit()
            database.execute("DETACH newest")
            database.execute("VACUUM")
            database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        return gzip.compress(path.read_bytes(), mtime=int(MAY.timestamp()))


def main() -> None:
    """Write the fixtures that are missing."""
    FIXTURES.mkdir(exist_ok=True)
    for number, step in enumerate(STEPS, 1):
        if not file_of(step.__name__).exists():
            file_of(step.__name__).write_bytes(build(number))
            print(f"{file_of(step.__name__).relative_to(Path.cwd())} written")


if __name__ == "__main__":
    main()
