"""What to do here today: plans, follow-ups, treatments due out, hives overdue; what to bring."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from fieldvoice.answers.amounts import Sum, at_home, said_amount, sugar_in, up_to
from fieldvoice.answers.answer import Answer, Cell
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.courses import REMINDER
from fieldvoice.answers.feed import feed_name
from fieldvoice.answers.plans import DUE_COLUMNS, LAPSE, Due, Open, open_dues
from fieldvoice.answers.visits import opened

AHEAD = 7
"""Days ahead that count as soon."""
ORDER = ("overdue", "now", "from", "no day")


def due(ask: Ask) -> Answer:
    """Everything that is open up to a week ahead (or `until`), the most pressing first."""
    whole, found = soon(ask)
    late = opened(ask, ask.hives(), whole.own)
    overdue = [f"{row[0]} ({row[3] if row[3] is not None else 'never'})" for row in late
               if row[5] == "overdue"]  # fmt: skip
    notes = [f"Overdue for opening, days ago: {', '.join(overdue)}."] if overdue else []
    reasons = dict.fromkeys(
        f"Why {one.what.split(';')[0]}: {one.reason} ({one.source})." for one in found if one.reason
    )
    notes += reasons
    if any(one.state == "proposed" for one in found):
        notes.append("Proposed ones become yours, or go, with `fieldvoice plans`.")
    if whole.lapsed:
        notes.append(f"{whole.lapsed} proposals lapsed more than {LAPSE} days ago are left out.")
    if any(one.maybe for one in found):
        notes.append(
            "Plans that a row seems to have done stand last: close them with `fieldvoice plans`."
        )
    if any(one.kind == "treatment" for one in found):
        notes.append(REMINDER)
    return Answer(
        f"To do as of {ask.today}, {ask.place()}", DUE_COLUMNS,
        tuple(one.cells(ask.today) for one in found),
        tuple({one.row.uuid: one.row for one in found}.values()), tuple(notes),
    )  # fmt: skip


def soon(ask: Ask) -> tuple[Open, list[Due]]:
    """All that is open, and what of it begins within the days ahead, the most pressing first."""
    found = open_dues(Ask(ask.logbook, ask.today, ask.settings, ask.since, ask.today,
                                ask.yard, ask.hive))  # fmt: skip
    end = ask.until if ask.until and ask.until > ask.today else ask.today + timedelta(days=AHEAD)
    near = [one for one in found.dues if one.first is None or one.first <= end]
    near.sort(key=lambda one: (_rank(one, ask.today), one.last or date.max))
    return found, near


def load(ask: Ask) -> Answer:
    """What to take along for the plans of a yard: feed, parts, treatments, things to bring."""
    _, found = soon(ask)
    return _bring(ask, found, f"To load as of {ask.today}, {ask.place()}")


def shopping(ask: Ask) -> Answer:
    """What to buy or make: everything said to be got, and the sugar for planned feed."""
    wanted = [one for one in open_dues(ask).dues if one.kind == "supply" or one.row.kind == "feed"]
    wanted = [one for one in wanted if one.kind != "follow-up"]
    return _bring(ask, wanted, f"To buy or make as of {ask.today}, {ask.place()}")


def _bring(ask: Ask, found: Sequence[Due], title: str) -> Answer:
    things: dict[tuple[str, str | None], Sum] = defaultdict(Sum)
    hives: dict[tuple[str, str | None], list[str]] = defaultdict(list)
    sugar = Sum()
    used = []
    for one in found:
        row = one.row
        if one.kind not in ("plan", "supply") or not _is_thing(one):
            continue
        used.append(row)
        name = feed_name(row) if row.kind == "feed" else row.item
        value = said_amount(row)
        known = at_home(value, ask.settings) if value else None
        key = (name, known[2] if known else None)
        things[key] = things[key].plus(*known) if known else things[key].plus_unsaid()
        hives[key].append(row.details.get("target_hive") or one.hive or "yard")
        if row.kind == "feed":
            sweet = sugar_in(row, ask.settings)
            sugar = sugar.plus(*sweet, None) if sweet else sugar.plus_unsaid()
    table: list[tuple[Cell, ...]] = []
    for (name, unit), total in sorted(things.items(), key=lambda pair: pair[0][0]):
        table.append(
            (
                name,
                total.lo if total.known else None,
                up_to(total.lo, total.hi),
                None if unit == name else unit,
                total.unsaid or None,
                ", ".join(dict.fromkeys(hives[name, unit])),
            )
        )
    notes = []
    unit = "kg" if ask.settings.units == "metric" else "lb"
    if sugar.known:
        span = f"{sugar.lo:.0f}" if sugar.hi <= sugar.lo else f"{sugar.lo:.0f} to {sugar.hi:.0f}"
        notes.append(f"Sugar in the planned syrup: {span} {unit}.")
    if sugar.unsaid:
        notes.append(f"{sugar.unsaid} planned feeds have no amount or ratio: not in that sum.")
    return Answer(
        title, ("thing", "amount", "up to", "unit", "amount not said", "for"), tuple(table),
        tuple(used), tuple(notes),
    )  # fmt: skip


def _is_thing(one: Due) -> bool:
    if one.kind == "supply":
        return True
    return (one.row.kind, one.row.action) in {
        ("feed", "give"), ("feed", "add"), ("equipment", "add"), ("equipment", "replace"),
        ("treatment", "give"), ("treatment", "treat"), ("treatment", "add"),
        ("queen", "give"), ("queen", "add"),
    }  # fmt: skip


def _rank(one: Due, today: date) -> int:
    if one.maybe is not None:
        return len(ORDER)
    when = one.when(today)
    return next(n for n, word in enumerate(ORDER) if when.startswith(word))
