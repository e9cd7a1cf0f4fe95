"""A logbook of a hundred thousand rows, and how long each question takes on it.

python tests/benchmarks/big_log.py [FILE [ROWS YEARS]]    writes it (if it is not there) and prints a table

The invented season of demo/season.py is told ten times over, a year apart each time, with more
visits filled in up to the number of rows: 40 hives, 10 years.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent.parent.parent / "demo"))

import season as invented

from fieldvoice.answers.answer import to_text
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.cautions import with_cautions
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.logbook.register import need_hive
from fieldvoice.logbook.rows import entry_columns, value_columns
from fieldvoice.types import When

ROWS = 100_000
YEARS = 10
LAST = date(2026, 3, 17)
WHOLE_YEAR = date(2025, 10, 15)
"""A day in the busiest part of the newest year."""


def build(path: Path, rows: int = ROWS, years: int = YEARS) -> int:
    """Write the logbook; how many rows it has."""
    with open_logbook(path, create=True) as logbook:
        logbook.conn.execute("PRAGMA synchronous = OFF")  # only while it is made
        invented.load(logbook, ())
        written = 0
        for back in range(years):
            # other seeds give other years; several tellings of one year fill it up
            for telling in range(99):
                if written >= rows * (back + 1) // years:
                    break
                for visit in invented.season(invented.SEED + 100 * back + telling):
                    shift = timedelta(days=364 * back)
                    moved = replace(visit, at=visit.at - shift + timedelta(minutes=17 * telling))
                    written += _keep(logbook, moved, shift, f"{back} {telling}")
        logbook.conn.execute("ANALYZE")
    return written


def _keep(logbook: Logbook, visit: invented.Visit, shift: timedelta, name: str) -> int:
    """As `season.keep_visit`, but by plain inserts: a hundred thousand steps would take hours."""
    empty = invented.Visit(visit.at, visit.yard, ())
    invented.keep_visit(logbook, empty)
    conn = logbook.conn
    recording, yard_id, at, offset, day = conn.execute(
        "SELECT id, yard_id, recorded_at, utc_offset_min, day FROM recordings"
        " ORDER BY id DESC LIMIT 1"
    ).fetchone()
    hives = dict(
        conn.execute("SELECT label, id FROM hives WHERE yard_id = ?", [yard_id]).fetchall()
    )
    conn.execute("BEGIN")
    for number, entry in enumerate(visit.entries):
        moved = replace(entry, when=_earlier(entry.when, shift))
        columns = entry_columns(moved) | {"recording_id": recording}
        columns["uuid"] = str(uuid.uuid5(uuid.NAMESPACE_OID, f"{name} {visit.at} {number}"))
        draft = columns | {"version": 1, "state": "confirmed", "changed_at": at}
        _insert(conn, "drafts", draft)
        row = columns | {
            "yard_id": yard_id, "hive_id": hives.get(str(entry.hive)), "recorded_at": at,
            "utc_offset_min": offset, "day": day, "confirmed_at": at,
        }  # fmt: skip
        new = _insert(conn, "entries", row)
        for value in value_columns(moved, "entry_id", new):
            _insert(conn, "entry_values", value)
    conn.execute("COMMIT")
    return len(visit.entries)


def _insert(conn: Any, table: str, row: dict[str, Any]) -> int:
    marks = ", ".join("?" * len(row))
    sql = f"INSERT INTO {table} ({', '.join(row)}) VALUES ({marks})"
    return int(conn.execute(sql, list(row.values())).lastrowid)


def _earlier(when: When | None, shift: timedelta) -> When | None:
    if when is None:
        return None
    return When(*(day - shift if day else None for day in (when.from_, when.to)))


def questions(logbook: Logbook) -> dict[str, Callable[[], Any]]:
    """Every question of the command line on all hives, and those of one hive."""
    from fieldvoice.answers import (
        colonies,
        due,
        equipment,
        feed,
        harvest,
        medicine,
        mites,
        queens,
        search,
        stores,
        strength,
        traits,
        treatments,
        visits,
        winter,
    )

    everything = Ask(logbook, WHOLE_YEAR)
    one = replace(everything, hive=need_hive(logbook, "7"))
    since = replace(everything, since=date(2015, 1, 1))
    wanted = search.Wanted
    asks = {
        "due": lambda: due.due(everything),
        "load": lambda: due.load(everything),
        "shopping": lambda: due.shopping(everything),
        "visits": lambda: visits.visits(everything),
        "feed": lambda: feed.feed(everything),
        "mites": lambda: mites.mites(everything),
        "treatments": lambda: treatments.treatments(everything),
        "supers": lambda: treatments.supers(everything),
        "effect": lambda: treatments.effect(everything),
        "queens": lambda: queens.queens(everything),
        "splits": lambda: queens.splits(everything),
        "stores": lambda: stores.stores(everything),
        "strength": lambda: strength.strength(everything),
        "winter": lambda: winter.winter(everything),
        "equipment": lambda: equipment.equipment(everything),
        "harvest": lambda: harvest.harvest(everything),
        "traits": lambda: traits.traits(everything),
        "colonies": lambda: colonies.colonies(everything),
        "losses": lambda: colonies.losses(replace(everything, today=LAST)),
        "medicine": lambda: medicine.medicine(everything),
        "lineage 7": lambda: colonies.lineage(one),
        "visits 7": lambda: visits.visits(one),
        "feed 7, ten years": lambda: feed.feed(replace(one, since=date(2015, 1, 1))),
        "mites 7, ten years": lambda: mites.mites(replace(one, since=date(2015, 1, 1))),
        "harvest, ten years": lambda: harvest.harvest(since),
        "search word": lambda: search.search(everything, wanted(words="ropey")),
        "search common word": lambda: search.search(everything, wanted(words="see egg")),
        "search hive and ratio": lambda: search.search(one, wanted(item="syrup", ratio=2.0)),
        "search hive and word": lambda: search.search(one, wanted(words="egg")),
        "search kind": lambda: search.search(everything, wanted(kind="mites")),
    }
    return {name: _whole(ask) for name, ask in asks.items()}


def _whole(ask: Callable[[], Any]) -> Callable[[], Any]:
    """The question with its cautions."""
    return lambda: with_cautions(ask())


def timed(call: Callable[[], Any], clock: Callable[[], float], times: int = 7) -> float:
    """Median milliseconds of `clock` after one call to warm up."""
    call()
    took = []
    for _ in range(times):
        start = clock()
        call()
        took.append(1000 * (clock() - start))
    return statistics.median(took)


def main() -> None:
    """Print the medians of each question: by the wall clock, by the processor, and shown."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(folder) / "big.db"
        if not path.exists():
            print(f"{build(path, *map(int, sys.argv[2:]))} rows written")
        print("wall ms  cpu ms  with the table drawn for the terminal, wall ms")
        with open_logbook(path) as logbook:
            for name, call in questions(logbook).items():
                wall, cpu = timed(call, time.perf_counter), timed(call, time.process_time)
                shown = timed(lambda call=call: to_text(call(), 120), time.perf_counter, 3)
                print(f"{wall:7.1f} {cpu:7.1f} {shown:7.1f}  {name}")


if __name__ == "__main__":
    main()
