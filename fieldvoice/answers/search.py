"""Search: rows by words, hive, time, kind, thing, number; the newest first."""

from __future__ import annotations

from dataclasses import dataclass

from fieldvoice.answers.answer import Answer
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.visits import as_entry
from fieldvoice.logbook.asking import Which, facts
from fieldvoice.plain import entry_line

MOST = 50


@dataclass(frozen=True, slots=True)
class Wanted:
    """What rows must have; empty leaves a field open."""

    words: str = ""
    kind: str = ""
    item: str = ""
    status: str = ""
    ratio: float | None = None
    most: int = MOST


def search(ask: Ask, wanted: Wanted) -> Answer:
    """The newest rows that have all of it."""
    which = Which(
        kinds=(wanted.kind,) if wanted.kind else (),
        items=(wanted.item,) if wanted.item else (),
        statuses=(wanted.status,) if wanted.status else (),
        since=ask.since, until=ask.until, yard=ask.yard if ask.hive is None else None,
        hive=ask.hive, words=wanted.words, ratio=wanted.ratio, newest=wanted.most + 1,
    )  # fmt: skip
    rows = facts(ask.logbook, which)
    more = len(rows) > wanted.most
    rows = rows[-wanted.most :]
    return Answer(
        f"Found in {ask.place()}, newest first", ("day", "hive", "yard", "what", "words"),
        tuple(
            (row.day, row.hive, row.yard, entry_line(as_entry(row)), row.quote or None)
            for row in reversed(rows)
        ),
        rows,
        (f"Only the newest {wanted.most} are shown; narrow it, or ask for more with --most.",)
        if more else (),
    )  # fmt: skip
