"""When each hive was last opened, what was found, and which are overdue."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from fieldvoice.answers.answer import NOT_LOOKED, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.logbook.register import Hive
from fieldvoice.plain import entry_line
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Entry, Fact

NOW = ("done", "seen", "absent")
"""Statuses of what happened on the day itself."""
HIVE_KINDS = (
    "population", "queen", "brood", "stores", "health", "mites", "treatment", "feed",
    "equipment", "colony", "harvest",
)  # fmt: skip


_LATELY = 90
"""Days in which most hives were opened; only if one was not, the whole year is read."""


def visits(ask: Ask) -> Answer:
    """Each hive's last opening and last look, against the days between openings by month.

    A look at the entrance, a heft or feeding is no opening.
    """
    rows = ask.read(*HIVE_KINDS, statuses=NOW, days=_LATELY)
    put_off = ask.read("note", actions=["inspect"], statuses=["planned", "skipped"], days=60)
    known = ask.hives()
    own = by_hive(rows, known)
    if any(last_opened(own[hive.id]) is None for hive in known):  # it was longer ago
        rows = ask.read(*HIVE_KINDS, statuses=NOW)
        own = by_hive(rows, known)
    table = opened(ask, known, own)
    inspection = trade_file("thresholds")["inspection"]
    days = allowed_days(ask.today)
    rule = (
        f"In this month every {days} days ({inspection['source']})."
        if days
        else f"In this month hives stay shut ({inspection['source']})."
    )
    notes = [rule] + [
        f"{row.day}: {row.hive or 'the yard'}: {entry_line(as_entry(row))}" for row in put_off
    ]
    columns = ("hive", "yard", "last opened", "days ago", "last look", "state", "found then")
    wide = len(columns) if ask.hive is not None else len(columns) - 1
    return Answer(
        f"Hives opened, as of {ask.today}, {ask.place()}",
        columns[:wide],
        tuple(line[:wide] for line in table),
        rows,
        tuple(notes),
        tuple(hive.label for hive in known if not own[hive.id]),
    )


def opened(
    ask: Ask, known: Sequence[Hive], own: Mapping[int, Sequence[Fact]]
) -> list[tuple[Cell, ...]]:
    """Hive, yard, last opened, days ago, last look, state, what was found; overdue ones first."""
    return sorted(
        (_line(ask, hive, own[hive.id]) for hive in known),
        key=lambda line: (line[5] != "overdue", -(line[3] if isinstance(line[3], int) else 9999)),
    )


def allowed_days(day: date) -> int | None:
    """Days between openings in the month of `day`; None where hives stay shut."""
    days = trade_file("thresholds")["inspection"]["days"].get(str(day.month))
    return int(days) if days is not None else None


def is_opening(row: Fact) -> bool:
    """Whether only an open hive could give this row."""
    rule = trade_file("thresholds")["opened"]
    if row.status not in NOW:
        return False
    if row.kind in rule["kinds"] and row.action != "give":
        return True
    if row.kind == "mites":
        method = row.details.get("method", "")
        return row.value("sample") is not None or any(m in method for m in rule["methods"])
    return any(value.unit in rule["units"] for value in row.values)


def last_opened(rows: Sequence[Fact]) -> date | None:
    """The day of the last opening among a hive's rows, oldest first."""
    return next((row.day for row in reversed(rows) if is_opening(row)), None)


def as_entry(row: Fact) -> Entry:
    """The row as an entry, to be told in one line."""
    return Entry(
        row.hive, row.kind, row.action, row.item, row.status, row.values, row.when, row.details
    )


def _line(ask: Ask, hive: Hive, rows: Sequence[Fact]) -> tuple[Cell, ...]:
    opened = last_opened(rows)
    looked = rows[-1].day if rows else None
    found = "; ".join(
        entry_line(as_entry(row)) for row in rows if row.day == opened and row.hive != "all"
    )
    ago = (ask.today - opened).days if opened else None
    allowed = allowed_days(ask.today)
    if allowed is None:
        state = "hives stay shut"
    elif ago is None or ago > allowed:
        state = "overdue"
    else:
        state = "in time"
    return (
        hive.label, hive.yard, opened or NOT_LOOKED, ago, looked or NOT_LOOKED, state,
        found or None,
    )  # fmt: skip
