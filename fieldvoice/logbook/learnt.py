"""Words of this keeper that were misheard, and what became of them."""

from __future__ import annotations

import json
import uuid
from datetime import datetime

from fieldvoice.errors import InputError
from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook, writing
from fieldvoice.types import Entry
from fieldvoice.wire import entry_from_json

_LONGEST = 60


def corrected_rows(logbook: Logbook) -> tuple[tuple[Entry, Entry], ...]:
    """Rows that were edited: as they were drafted, and as they are now.

    Taken from the history, so that an edit that was undone teaches nothing.
    """
    rows = logbook.query(
        "SELECT first.before AS drafted, last.after AS now FROM ("
        "  SELECT min(id) AS first, max(id) AS last FROM history"
        "  WHERE draft IN (SELECT draft FROM history WHERE decision = 'edit') GROUP BY draft)"
        " JOIN history AS first ON first.id = first JOIN history AS last ON last.id = last"
        " WHERE first.before IS NOT NULL"
        " AND json_extract(last.after, '$.state') IN ('waiting', 'confirmed') ORDER BY first.id"
    )
    return tuple(
        (
            entry_from_json(json.loads(row["drafted"])["entry"]),
            entry_from_json(json.loads(row["now"])["entry"]),
        )
        for row in rows
    )


def decided_respellings(logbook: Logbook) -> dict[tuple[str, str], bool]:
    """(heard, meant) to whether the keeper wants it used, the newest first."""
    rows = logbook.query("SELECT heard, meant, used FROM respellings ORDER BY id DESC")
    return {(row["heard"], row["meant"]): bool(row["used"]) for row in rows}


def learnt_aliases(logbook: Logbook) -> tuple[tuple[str, str, str], ...]:
    """Names of hives that review has learnt, the newest first: (name, label, yard)."""
    rows = logbook.query(
        "SELECT alias, label, yards.name AS yard FROM aliases"
        " JOIN hives ON hives.id = hive_id JOIN yards ON yards.id = yard_id"
        " WHERE source = 'learnt' AND hives.retired_at IS NULL ORDER BY aliases.id DESC"
    )
    return tuple((row["alias"], row["label"], row["yard"]) for row in rows)


def decide_respelling(
    logbook: Logbook, heard: str, meant: str, *, used: bool, at: datetime
) -> None:
    """Note that words are to be put right from now on, or are not.

    Raises:
        InputError: one of them is empty or too long, or both are the same.
    """
    heard, meant = (" ".join(words.lower().split()) for words in (heard, meant))
    for words in (heard, meant):
        if not words or len(words) > _LONGEST or not words.isprintable():
            raise InputError(f"{words!r} cannot be learnt; use 1 to {_LONGEST} letters.")
    if heard == meant:
        raise InputError(f'"{heard}" is what was heard already; write what was meant.')
    with writing(logbook):
        logbook.execute(
            "INSERT INTO respellings (uuid, heard, meant, used, decided_at)"
            " VALUES (?, ?, ?, ?, ?)"
            " ON CONFLICT (heard, meant) DO UPDATE SET used = excluded.used,"
            " decided_at = excluded.decided_at",
            [str(uuid.uuid4()), heard, meant, int(used), utc_text(at)],
        )
