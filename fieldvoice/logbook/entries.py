"""The log itself: rows a person has confirmed, kept, taken back, found again."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.logbook.moments import local_moment, utc_text
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.register import Hive, find_hive
from fieldvoice.logbook.rows import entry_columns, entry_of, value_columns
from fieldvoice.types import Draft, LogRow


@dataclass(frozen=True, slots=True)
class Filter:
    """Which rows of the log; None leaves a field open. Days are local and inclusive."""

    since: date | None = None
    until: date | None = None
    kind: str | None = None
    status: str | None = None
    yard: str | None = None
    hive: Hive | None = None  # its own rows, those of all its yard's hives, and mentions of it
    words: str | None = None  # all of them in the quote or the item


def keep_entry(
    logbook: Logbook, draft: Draft, at: datetime, *, same: int | None = None, again: bool = False
) -> None:
    """Write a confirmed draft into the log; part of its caller's transaction.

    `same` is the id of the hive that the row was on before, if that does not change:
    its label may mean another hive by now. `again`: the row was in the log once, so its
    hive may be retired.

    Raises:
        InputError: its hive is not in the register.
    """
    (visit,) = logbook.query(
        "SELECT recordings.id, yard_id, yards.name AS yard, recorded_at, utc_offset_min, day"
        " FROM recordings JOIN yards ON yards.id = yard_id WHERE recordings.uuid = ?",
        [draft.recording],
    )
    entry = draft.entry
    hive_id = same
    if hive_id is None and entry.hive not in (None, "all"):
        hive = find_hive(logbook, str(entry.hive), visit["yard"], retired=again)
        if hive is None:
            raise InputError(
                f"Hive {entry.hive} is not in the register; add it with "
                f"`fieldvoice hives add {entry.hive}` or give the row another hive."
            )
        hive_id = hive.id
    label, yard_id = entry.hive, visit["yard_id"]
    if hive_id is not None:
        label, yard_id = logbook.execute(
            "SELECT label, yard_id FROM hives WHERE id = ?", [hive_id]
        ).fetchone()
    row_id = (
        logbook["entries"]
        .insert(
            entry_columns(entry)
            | {
                "hive": label,
                "uuid": draft.uuid,
                "recording_id": visit["id"],
                "yard_id": yard_id,
                "hive_id": hive_id,
                "recorded_at": visit["recorded_at"],
                "utc_offset_min": visit["utc_offset_min"],
                "day": visit["day"],
                "confirmed_at": utc_text(at),
            }
        )
        .last_pk
    )
    logbook["entry_values"].insert_all(value_columns(entry, "entry_id", row_id))


def remove_entry(logbook: Logbook, uuid: str) -> int | None:
    """Take a row out of the log; the history keeps what it was.

    Returns the id of the hive it was on, None if none or if it was not in the log.
    """
    row = logbook.execute("SELECT hive_id FROM entries WHERE uuid = ?", [uuid]).fetchone()
    logbook.execute("DELETE FROM entries WHERE uuid = ?", [uuid])
    return row[0] if row else None


def log_rows(logbook: Logbook, which: Filter = Filter()) -> tuple[LogRow, ...]:
    """The rows that pass, the newest recording first, each recording in the order it was said."""
    where, values = _where(which)
    sql = (
        "SELECT entries.*, coalesce(hives.label, entries.hive) AS label, yards.name AS yard,"
        " recordings.uuid AS recording FROM entries"
        " JOIN yards ON yards.id = entries.yard_id"
        " JOIN recordings ON recordings.id = entries.recording_id"
        " LEFT JOIN hives ON hives.id = entries.hive_id"
        f"{' WHERE ' if where else ''}{' AND '.join(where)}"
        " ORDER BY entries.recorded_at DESC, entries.recording_id DESC,"
        " entries.start_s IS NULL, entries.start_s, entries.id"
    )
    rows = list(logbook.query(sql, values))
    numbers = _values_of(logbook, [row["id"] for row in rows])
    return tuple(
        LogRow(
            row["uuid"],
            row["recording"],
            row["yard"],
            local_moment(row["recorded_at"], row["utc_offset_min"]),
            local_moment(row["confirmed_at"], row["utc_offset_min"]),
            entry_of(row | {"hive": row["label"]}, numbers[row["id"]]),
        )
        for row in rows
    )


def _where(which: Filter) -> tuple[list[str], dict[str, Any]]:
    tests = {
        "since": "entries.day >= :since",
        "until": "entries.day <= :until",
        "kind": "entries.kind = :kind",
        "status": "entries.status = :status",
        "yard": "yards.name = :yard COLLATE NOCASE",
    }
    values: dict[str, Any] = {
        name: value.isoformat() if isinstance(value, date) else value
        for name in tests
        if (value := getattr(which, name)) is not None
    }
    where = [test for name, test in tests.items() if name in values]
    if which.hive is not None:
        where.append(
            "entries.id IN (SELECT id FROM entries WHERE hive_id = :hive_id"
            " UNION SELECT e.id FROM entries e JOIN hives h ON h.yard_id = e.yard_id"
            " AND e.hive = 'all' AND h.id = :hive_id"
            " UNION SELECT id FROM entries WHERE json_extract(details, '$.target_hive') = :label"
            " UNION SELECT id FROM entries WHERE json_extract(details, '$.source_hive') = :label)"
        )
        values |= {"hive_id": which.hive.id, "label": which.hive.label}
    if which.words is not None:
        words = which.words.replace('"', " ").split()
        if not words:
            raise InputError("Say at least one word to look for.")
        where.append("entries.id IN (SELECT rowid FROM entries_fts WHERE entries_fts MATCH :words)")
        values["words"] = " ".join(f'"{word}"' for word in words)
    return where, values


def _values_of(logbook: Logbook, ids: Iterable[int]) -> dict[int, list[Mapping[str, Any]]]:
    grouped: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
    for value in logbook.query(
        "SELECT * FROM entry_values WHERE entry_id IN (SELECT value FROM json_each(?))"
        " ORDER BY entry_id, position",
        [json.dumps(list(ids))],
    ):
        grouped[value["entry_id"]].append(value)
    return grouped
