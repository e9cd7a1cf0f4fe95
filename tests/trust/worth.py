"""What a logbook is worth: what it says, whatever its ids and times, and whether it is whole."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from fieldvoice.logbook.drafts import save_step
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register import need_hive
from fieldvoice.logbook.register_changes import add_alias, add_hive
from fieldvoice.review import decisions
from fieldvoice.types import Draft, Entry, Segment, Stretch, Transcript, Word
from tests import makers
from tests.makers import MAY, SYRUP, drafted, query

HIVES = ("7", "8", "9", "A3")
EGGS = replace(makers.EGGS, confidence=0.9, flags=())
CELLS = Entry(
    "9", "queen", "see", "queen cell", "seen", quote="a sell in nine", start=6.0, end=7.0,
    confidence=0.5, flags=("heard-unsurely",),
)  # fmt: skip
WIND = Entry(None, "weather", "see", "wind", "seen", quote="windy", start=8.0, confidence=0.9)


def said(number: int, first: float = 0.0) -> tuple[Entry, ...]:
    """So many rows, each said at its own second in words of its own; every fourth doubtful."""
    kinds = (SYRUP, EGGS, WIND, CELLS)
    return tuple(
        replace(
            kinds[n % 4],
            quote=f"{kinds[n % 4].quote}, said {n + round(first)}",
            start=first + n * 2.0,
            end=first + n * 2.0 + 1.5,
        )
        for n in range(number)
    )


def heard(entries: Sequence[Entry]) -> Transcript:
    """A transcript that says them, with one stretch that gave no words."""
    segments = tuple(
        Segment(
            e.start or 0.0, e.end or 1.0, e.quote,
            tuple(Word(w, e.start or 0.0, e.end or 1.0, 0.9) for w in e.quote.split()),
        )
        for e in entries
    )  # fmt: skip
    return Transcript(
        " ".join(s.text for s in segments), "en", "test", "test", 900.0, segments,
        unheard=(Stretch(800.0, 803.0),),
    )  # fmt: skip


def put(logbook: Any, entries: Sequence[Entry], number: int) -> tuple[Draft, ...]:
    """A recording with these rows; the drafts as they wait."""
    at = MAY + timedelta(days=number)
    return drafted(logbook, entries, number, at, heard=heard(entries))


def make_logbook(path: Path, *, rows: int = 40, waiting: int = 12, first: int = 1) -> Path:
    """A logbook with confirmed, changed, rejected and waiting rows of three recordings."""
    with open_logbook(path, create=True) as logbook:
        for label in HIVES:
            add_hive(logbook, label, "home", MAY)
        add_alias(logbook, need_hive(logbook, "7"), "blue one", MAY)
        drafts = put(logbook, said(rows, 1000.0 * first), first)
        save_step(logbook, decisions.confirm(drafts[: rows // 2], MAY))
        for draft in drafts[rows // 2 : -2]:
            save_step(logbook, decisions.confirm([draft], MAY))
        save_step(logbook, decisions.reject(drafts[-2:-1], MAY))
        save_step(logbook, decisions.edit(drafts[-1], replace(EGGS, status="seen"), MAY))
        put(logbook, said(waiting, 1000.0 * first + 300), first + 1)
    return path


_ROW = "hive, kind, action, item, status, when_from, when_to, details, quote, start_s, end_s, flags"


def _rows(path: Path, table: str, more: str) -> list[tuple[Any, ...]]:
    one = {"entries": "entry", "drafts": "draft"}[table]
    values = (
        f"(SELECT json_group_array(json_array(role, lo, hi, unit, approx, said)) FROM"
        f" (SELECT * FROM {one}_values WHERE {one}_id = {table}.id ORDER BY position))"
    )
    return query(
        path,
        f"SELECT recordings.sha256, {more}, {_ROW}, {values} FROM {table}"
        f" JOIN recordings ON recordings.id = {table}.recording_id",
    )


def log_of(path: Path) -> Counter[tuple[Any, ...]]:
    """The rows of the log by what they say."""
    return Counter(_rows(path, "entries", "entries.day"))


def all_of(path: Path) -> dict[str, Counter[tuple[Any, ...]]]:
    """All that a keeper would miss, by what it says."""
    return {
        "log": log_of(path),
        "drafts": Counter(_rows(path, "drafts", "state")),
        "recordings": Counter(query(path, "SELECT sha256, stage, day, transcript FROM recordings")),
        "words": Counter(query(path, "SELECT word, start_s FROM words")),
        "hives": Counter(query(path, "SELECT label, retired_at IS NULL FROM hives")),
        "aliases": Counter(query(path, "SELECT alias, source FROM aliases")),
        "decisions": Counter(query(path, "SELECT decision FROM history")),
    }


def faults_in(path: Path) -> list[str]:
    """What is not whole in a logbook; nothing if all is well."""
    try:
        return _faults_in(path)
    except sqlite3.Error as error:
        return [str(error)]


def _faults_in(path: Path) -> list[str]:
    found = []
    with contextlib.closing(sqlite3.connect(path)) as database:
        ask = database.execute
        if (told := ask("PRAGMA integrity_check").fetchone()[0]) != "ok":
            found.append(f"integrity_check: {told}")
            return found
        if ask("PRAGMA foreign_key_check").fetchall():
            found.append("foreign_key_check: rows point nowhere")
        if not ask("SELECT 1 FROM sqlite_schema WHERE name = 'entries'").fetchone():
            return found  # stopped before there were any tables
        ask("INSERT INTO entries_fts (entries_fts) VALUES ('integrity-check')")
        database.rollback()
        unlike = ask(
            "SELECT count(*) FROM drafts LEFT JOIN entries USING (uuid)"
            " WHERE (drafts.state = 'confirmed') <> (entries.uuid IS NOT NULL)"
        ).fetchone()[0]
        if unlike:
            found.append(f"{unlike} rows are in the log and not confirmed, or the other way round")
        for uuid, state, after in ask(
            "SELECT drafts.uuid, drafts.state, history.after FROM drafts JOIN history"
            " ON history.id = (SELECT max(id) FROM history WHERE draft = drafts.uuid)"
        ).fetchall():
            if json.loads(after)["state"] != state:
                found.append(f"row {uuid} is {state} and its last decision says otherwise")
    return found


def doubled(path: Path) -> int:
    """Rows of the log that say the same of the same second of the same recording."""
    return sum(number - 1 for number in log_of(path).values())
