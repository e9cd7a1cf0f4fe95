"""What the keeper decided on plans and follow-ups; nothing of it is ever overwritten."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from fieldvoice.errors import InputError
from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook, writing

Verb = Literal["accepted", "changed", "dropped", "done"]


@dataclass(frozen=True, slots=True)
class Decided:
    """The newest decision on one plan or follow-up."""

    verb: Verb
    first: date | None = None  # new days, if it was changed
    last: date | None = None
    entry: str | None = None  # the row that did it
    note: str = ""


def decide(logbook: Logbook, key: str, decided: Decided, at: datetime) -> None:
    """Keep a decision on the plan (a row's uuid) or follow-up with that key.

    Raises:
        InputError: the days run backwards.
    """
    if decided.first and decided.last and decided.first > decided.last:
        raise InputError(f"{decided.first} is after {decided.last}; give the first day first.")
    with writing(logbook):
        logbook["due_decisions"].insert(
            {
                "uuid": str(uuid.uuid4()),
                "key": key,
                "decision": decided.verb,
                "due_from": decided.first.isoformat() if decided.first else None,
                "due_to": decided.last.isoformat() if decided.last else None,
                "entry": decided.entry,
                "note": decided.note,
                "at": utc_text(at),
            }
        )


def decisions(logbook: Logbook) -> dict[str, Decided]:
    """By key, the newest decision."""
    rows = logbook.execute(
        "SELECT key, decision, due_from, due_to, entry, note FROM due_decisions ORDER BY id"
    ).fetchall()
    return {
        key: Decided(verb, _day(first), _day(last), entry, note)
        for key, verb, first, last, entry, note in rows
    }


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None
