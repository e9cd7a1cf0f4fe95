"""What was fed, how much, how strong, and how much sugar that was."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from fieldvoice.answers.amounts import Sum, at_home, said_amount, sugar_in, up_to
from fieldvoice.answers.answer import Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.units import measures
from fieldvoice.logbook.register import Hive
from fieldvoice.plain import value_text
from fieldvoice.types import Fact


def feed(ask: Ask) -> Answer:
    """Feed given: for one hive each time, for more the sums of each hive.

    A feeding told afterwards ("on Wednesday I gave it a gallon") counts on its day, unless
    the log has one of the same hive, feed and day already; without a day it is listed, not
    added.
    """
    rows = ask.read("feed", actions=["give", "add"], statuses=["done", "past"])
    known = ask.hives(retired=True)
    given = {key: _once(own) for key, own in by_hive(rows, known).items()}
    of_all = sum(row.hive == "all" for row in rows)
    notes = [f"{of_all} rows speak of all hives of a yard and count for each."] if of_all else []
    if any(row.on is None for own in given.values() for row in own):
        notes.append("Told afterwards without a day: listed, not added.")
    unfed = [h.label for h in known if not given[h.id] and not h.retired]
    if ask.hive is not None:
        return _each(ask, given[ask.hive.id], notes)
    columns = (
        "hive", "yard", "feed", "times", "amount", "up to", "unit",
        f"sugar, {_weight(ask)}", "last given", "amount not said",
    )  # fmt: skip
    table = [row for hive in known for row in _sums(ask, hive, given[hive.id])]
    return Answer(
        f"Feed given from {ask.first()} to {ask.last()}, {ask.place()}",
        columns, tuple(table), rows,
        (*notes, *_total(ask, [row for own in given.values() for row in own]),
         *([f"No feed in the log for: {', '.join(unfed)}."] if unfed else [])),
    )  # fmt: skip


def feed_name(row: Fact) -> str:
    """A feed with its strength as it was said, "syrup 2:1"; without one, "syrup, ratio not said"."""
    ratio = row.value("ratio")
    if ratio is not None:
        return f"{row.item} {value_text(ratio)}"
    return f"{row.item}, ratio not said" if row.item == "syrup" else row.item


def _once(rows: Sequence[Fact]) -> list[Fact]:
    """Rows without those that tell again what a row of that day has."""
    done = {(row.item, row.day) for row in rows if row.status == "done"}
    return [row for row in rows if row.status == "done" or (row.item, row.on) not in done]


def _each(ask: Ask, rows: Sequence[Fact], notes: Sequence[str]) -> Answer:
    table: list[tuple[Cell, ...]] = []
    for row in rows:
        value = said_amount(row)
        sugar = sugar_in(row, ask.settings)
        table.append(
            (
                row.on or "day not said",
                feed_name(row),
                value_text(value) if value else "not said",
                sugar[0] if sugar else None,
                row.details.get("feeder"),
                row.quote,
            )
        )
    return Answer(
        f"Feed given from {ask.first()} to {ask.last()}, {ask.place()}",
        ("day", "feed", "amount", f"sugar, {_weight(ask)}", "feeder", "words"),
        tuple(table), tuple(rows), (*notes, *_total(ask, rows)),
    )  # fmt: skip


def _sums(ask: Ask, hive: Hive, rows: Sequence[Fact]) -> list[tuple[Cell, ...]]:
    groups: dict[tuple[str, str | None], list[Fact]] = defaultdict(list)
    unsaid: list[Fact] = []
    for row in rows:
        value = said_amount(row)
        if value is None:
            unsaid.append(row)
        else:
            groups[feed_name(row), at_home(value, ask.settings)[2]].append(row)
    for row in unsaid:  # beside what was measured of the same feed, if there is any
        name = feed_name(row)
        groups[next((key for key in groups if key[0] == name), (name, None))].append(row)
    merged: list[tuple[Cell, ...]] = []
    for (name, unit), own in groups.items():
        total, sugar, last = Sum(), Sum(), None
        for row in own:
            total, sugar = _added(ask, row, total, sugar)
            last = max(filter(None, (last, row.on)), default=None)
        merged.append(
            (
                hive.label,
                hive.yard,
                name,
                total.times,
                total.lo if total.known else None,
                up_to(total.lo, total.hi),
                unit,
                sugar.lo if sugar.known else None,
                last or "day not said",
                total.unsaid or None,
            )
        )
    return merged


def _added(ask: Ask, row: Fact, total: Sum, sugar: Sum) -> tuple[Sum, Sum]:
    value, sweet = said_amount(row), sugar_in(row, ask.settings)
    dated = row.on is not None
    known = at_home(value, ask.settings) if value and dated else None
    total = total.plus(*known) if known else total.plus_unsaid()
    if sweet and dated:
        sugar = sugar.plus(*sweet, None)
    return total, sugar


def _total(ask: Ask, rows: Sequence[Fact]) -> list[str]:
    sums: dict[str, Sum] = defaultdict(Sum)
    sugar = Sum()
    for row in rows:
        value, sweet = said_amount(row), sugar_in(row, ask.settings)
        name = feed_name(row)
        if value and row.on:
            lo, hi, unit = at_home(value, ask.settings)
            many = f"{unit}s of {name}" if measures(unit) else f"{unit} of {name}"
            sums[many] = sums[many].plus(lo, hi, unit)
        known = sweet if row.on else None
        sugar = sugar.plus(*known, None) if known else sugar.plus_unsaid()
    lines = []
    if sums:
        lines.append(
            "In all: "
            + "; ".join(f"{_range(s.lo, s.hi)} {name}" for name, s in sorted(sums.items()))
            + "."
        )
    if sugar.known:
        lines.append(f"Sugar in it: {_range(sugar.lo, sugar.hi)} {_weight(ask)}, from ratio and "
                     f"amount by {ask.settings.ratio_by}.")  # fmt: skip
    if sugar.unsaid:
        lines.append(f"{sugar.unsaid} feedings have no amount, ratio or day, and are not in it.")
    return lines


def last_feed(rows: Sequence[Fact]) -> date | None:
    """The last day of feeding among feed rows."""
    return max((row.on for row in rows if row.on), default=None)


def _range(lo: float, hi: float) -> str:
    return f"{lo:.1f}" if hi <= lo else f"{lo:.1f} to {hi:.1f}"


def _weight(ask: Ask) -> str:
    return "kg" if ask.settings.units == "metric" else "lb"
