"""Which hives are mean, swarmy or spotty: how often it was said, hive by hive and queen by queen."""

from __future__ import annotations

from fieldvoice.answers.answer import Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive, matches
from fieldvoice.trade.load import trade_file

TRAITS = ("mean", "swarmy", "spotty", "gentle")


def traits(ask: Ask) -> Answer:
    """How often each was said of a hive, in how many visits, and since its queen came."""
    rows = ask.read("population", "queen", "brood", "colony")
    known = ask.hives()
    own = by_hive(rows, known)
    rules = trade_file("traits")
    table: list[tuple[Cell, ...]] = []
    for hive in known:
        queens = [
            r.on for r in own[hive.id] if r.action == "requeen" and r.status in ("done", "past")
        ]
        came = max((day for day in queens if day), default=None)
        counts: list[Cell] = []
        since = 0
        for name in TRAITS:
            rule = rules[name]["rows"]
            days = {r.day for r in own[hive.id] if r.kind in rule["kind"] and matches(r, rule)}
            counts.append(len(days))
            since += sum(came is not None and day > came for day in days) if name != "gentle" else 0
        visits = len({row.day for row in own[hive.id]})
        table.append((hive.label, hive.yard, *counts, visits, came, since if came else None))
    table.sort(key=lambda line: -sum(n for n in line[2:5] if isinstance(n, int)))
    return Answer(
        f"Said of each hive from {ask.first()} to {ask.last()}, {ask.place()}",
        ("hive", "yard", *TRAITS, "days spoken of", "queen came", "faults since she came"),
        tuple(table), rows,
        ("Counted in days; the words are in trade/traits.toml. What was not said is not counted "
         "for or against.",),
        tuple(hive.label for hive in known if not own[hive.id]),
    )  # fmt: skip
