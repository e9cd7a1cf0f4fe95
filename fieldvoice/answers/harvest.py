"""Harvest by hive and yard: weight, moisture against published limits, what was not weighed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from fieldvoice.answers.amounts import Sum, at_home, up_to
from fieldvoice.answers.answer import Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.comb import moisture_says
from fieldvoice.answers.units import measures
from fieldvoice.plain import value_text
from fieldvoice.types import Fact


def harvest(ask: Ask) -> Answer:
    """One hive: each harvest. More: sums of hives, yards, and the average of those weighed."""
    rows = ask.read("harvest", statuses=["done", "past"])
    known = ask.hives(retired=True)
    if ask.hive is not None:
        return _each(ask, rows)
    own = by_hive(rows, known)
    unit = "kg" if ask.settings.units == "metric" else "lb"
    table: list[tuple[Cell, ...]] = []
    yards: dict[str, Sum] = defaultdict(Sum)
    for hive in known:
        if not own[hive.id]:
            continue
        total = Sum()
        for row in own[hive.id]:
            total = _plus(ask, total, row)
            yards[hive.yard] = _plus(ask, yards[hive.yard], row)
        table.append(
            (
                hive.label, hive.yard, total.times, total.lo if total.known else None,
                up_to(total.lo, total.hi), _wettest(own[hive.id]), total.unsaid or None,
                max((r.on for r in own[hive.id] if r.on), default=None),
            )
        )  # fmt: skip
    notes = [
        f"{yard}: {total.lo:.0f}{f' to {total.hi:.0f}' if total.hi > total.lo else ''} {unit} "
        f"in {total.times - total.unsaid} weighed harvests"
        + (f", {total.unsaid} not weighed" if total.unsaid else "")
        for yard, total in sorted(yards.items())
    ]
    weighed = [row for row in table if row[3] is not None]
    if weighed:
        mean = sum(float(str(row[3])) for row in weighed) / len(weighed)
        notes.append(f"Average of the {len(weighed)} hives with a weight: {mean:.1f} {unit}.")
    return Answer(
        f"Honey taken from {ask.first()} to {ask.last()}, {ask.place()}",
        ("hive", "yard", "times", unit, "up to", "moisture, %", "not weighed", "last"),
        tuple(table), rows, tuple(notes),
    )  # fmt: skip


def _plus(ask: Ask, total: Sum, row: Fact) -> Sum:
    weight = row.value("weight") or row.value("amount")
    if weight is None or measures(weight.unit) != "weight" or row.on is None:
        return total.plus_unsaid()
    return total.plus(*at_home(weight, ask.settings))


def _wettest(rows: Sequence[Fact]) -> float | None:
    return max((v.hi for row in rows if (v := row.value("moisture"))), default=None)


def _each(ask: Ask, rows: Sequence[Fact]) -> Answer:
    table: list[tuple[Cell, ...]] = []
    for row in rows:
        weight, taken, water = row.value("weight"), row.value("count"), row.value("moisture")
        table.append(
            (
                row.on or "day not said",
                value_text(taken) if taken else None,
                value_text(weight) if weight else "not weighed",
                value_text(water) if water else "not measured",
                moisture_says(water.hi) if water else None,
            )
        )
    return Answer(
        f"Honey taken from {ask.first()} to {ask.last()}, {ask.place()}",
        ("day", "taken", "weight", "moisture", "against published limits"),
        tuple(table), tuple(rows),
    )  # fmt: skip
