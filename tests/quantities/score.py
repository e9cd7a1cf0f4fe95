"""Score the number and date grammars on the public and field case sets of this folder.

    python -m tests.quantities.score

prints one row a set, beside the best library that was measured on it. The cases were
converted from the own suites of two general-purpose libraries (licences/), and 166 phrases
as a keeper says them; own_phrases.json and own_dates.json are this project's. A library's
figure is over all items of its set; here items of units that no yard uses are left out.
ms_number and ms_numberrange hold powers, lakhs and comparisons that nobody says at a hive;
they are shown, and no floor is set for them, nor for ms_duration ("all day", "whole week").
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fieldvoice.extraction.dates import find_dates
from fieldvoice.extraction.quantities import VALUE_SHAPES, Quantity, find_quantities, vocabulary
from tests.quantities.matcher import SECONDS, Item, canonical, matches, overlap

CASES = Path(__file__).parent / "cases"
BEST = {  # strict percent of the best library in Python, from the comparison the sets come from
    "fieldphrases": "56 (84 of 150, ms-recognizers-text 1.0.1; ratios 0 of 16)",
    "fieldphrases dates": "78 (31 of 40, ms-recognizers-text 1.0.1, any candidate)",
    "ms_temperature": "100 (its own: ms-recognizers-text 1.0.1)",
    "ms_age": "100 (its own: ms-recognizers-text 1.0.1)",
    "ms_dimension": "90 (its own: ms-recognizers-text 1.0.1)",
    "q3_quantities": "91 (its own: quantulum3 0.10.0)",
    "q3_spellout": "79 (recognizers-text)",
    "ms_number": "92 (its own: ms-recognizers-text 1.0.1)",
    "ms_duration": "88 (its own: ms-recognizers-text 1.0.1)",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table."""

    name: str
    right: int
    items: int
    left_out: int  # items of units that no yard uses
    stray: int  # items read where nothing, or a distractor, was said
    best: str

    @property
    def share(self) -> float:
        """Items right, of those kept."""
        return self.right / self.items if self.items else 0.0


def load(name: str) -> list[dict[str, Any]]:
    """The cases of a set: text, ref_date, gold items, distractors."""
    content = json.loads((CASES / f"{name}.json").read_text(encoding="utf-8"))
    return list(content if isinstance(content, list) else content["cases"])


def yard_units() -> frozenset[str]:
    """The units that a yard uses: those of units.toml."""
    return frozenset(str(canonical(name)) for name in vocabulary().units)


def kept(gold: Item) -> bool:
    """The rule for what is scored: items without a unit, or with a unit of units.toml.

    Left out are money, areas and cubes, data, angles in turns or radians, physics (eV, J, Gy),
    barrels, drams, micrograms, and rates over milliseconds, kilometres or years.
    """
    unit = canonical(gold.get("unit"))
    return unit is None or unit in yard_units()


def field_items(text: str) -> list[Item]:
    """Values as the field phrases label them: a bound or a range is a range."""
    out = []
    for found in find_quantities(text):
        if found.shape not in VALUE_SHAPES:
            continue
        item = _item(found)
        if found.shape == "ratio":
            item |= {"type": "ratio", "a": found.lo, "b": 1}
        elif found.lo != found.hi or found.bound:
            item |= {
                "type": "range",
                "lo": None if found.bound == "up to" else found.lo,
                "hi": None if found.bound == "at least" else found.hi,
            }
        out.append(item)
    return out


def unit_items(text: str) -> list[Item]:
    """Measures as Recognizers' unit suites label them: of a range, the last number counts."""
    return [_item(q) for q in find_quantities(text) if q.shape in VALUE_SHAPES and q.unit]


def number_items(text: str) -> list[Item]:
    """Every number, whatever it stands for, as Recognizers' number suite labels them."""
    out = []
    for found in find_quantities(text):
        if found.shape in VALUE_SHAPES | {"year", "label"}:
            out.append(_item(found))
        elif found.shape == "ordinal":
            out.append(_item(found) | {"type": "ordinal"})
    return out


def mixed_items(text: str) -> list[Item]:
    """Values as quantulum3's suite labels them: ranges are ranges, years are numbers."""
    out = []
    for found in find_quantities(text):
        if found.shape in VALUE_SHAPES or found.shape == "year":
            item = _item(found)
            if found.lo != found.hi:
                item |= {"type": "range", "lo": found.lo, "hi": found.hi}
            out.append(item)
    return out


def _item(found: Quantity) -> Item:
    unit = None if found.unit == "1" else found.unit
    kind = "number" if unit is None else "quantity"
    if found.shape == "share" and unit is None:
        kind = "fraction"
    if unit in SECONDS:
        kind = "duration"
    return {
        "type": kind, "value": found.hi, "unit": unit, "start": found.start, "end": found.end,
    }  # fmt: skip


def date_items(text: str, recorded_on: date) -> list[Item]:
    """Dates, "today" as the recording's day, and "by the tenth" as the tenth itself."""
    spans = tuple((q.start, q.end) for q in find_quantities(text) if q.shape == "ratio")
    out: list[Item] = []
    for found in find_dates(text, recorded_on, spans):
        first, last = found.from_ or recorded_on, found.to or recorded_on
        if found.said.lower().startswith("by "):
            first = last
        days = {"lo": first.isoformat(), "hi": last.isoformat()}
        out.append({"type": "date", "start": found.start, "end": found.end} | days)
    return out


def score_set(
    name: str, read: Callable[[str, date], list[Item]], keep: Callable[[Item], bool]
) -> Row:
    """Score one set: each item read is used once; the rest over no gold item is stray."""
    right = items = left_out = stray = 0
    for case in load(name.split()[0]):
        found = read(case["text"], date.fromisoformat(case["ref_date"][:10]))
        free = list(found)
        for gold in case["gold"]:
            if not keep(gold):
                left_out += 1
                continue
            items += 1
            hit = next((i for i in free if matches(gold, i)), None)
            if hit is not None:
                right += 1
                free.remove(hit)
        stray += sum(not any(overlap(g, i) for g in case["gold"]) for i in found)
    return Row(name, right, items, left_out, stray, BEST.get(name, ""))


def score_quantities() -> list[Row]:
    """All rows of the table."""
    no_date: Callable[[Item], bool] = lambda g: g["type"] != "date"  # noqa: E731
    return [
        score_set("fieldphrases", lambda t, _: field_items(t), no_date),
        score_set("fieldphrases dates", date_items, lambda g: g["type"] == "date"),
        *(
            score_set(name, lambda t, _: unit_items(t), kept)
            for name in ("ms_temperature", "ms_age", "ms_dimension", "ms_duration")
        ),
        *(
            score_set(name, lambda t, _: mixed_items(t), kept)
            for name in ("q3_quantities", "q3_spellout")
        ),
        score_set("ms_number", lambda t, _: number_items(t), kept),
        score_set("ms_numberrange", lambda t, _: field_items(t), kept),
        own_phrases(),
        own_dates(),
    ]


def own_phrases() -> Row:
    """The project's own phrases: a phrase is right if every value and nothing else is read."""
    right = 0
    phrases = load("own_phrases")
    for text, gold in phrases:
        found = [q for q in find_quantities(text) if q.shape in VALUE_SHAPES]
        right += len(found) == len(gold) and all(
            abs(q.lo - lo) < 1e-3 and abs(q.hi - hi) < 1e-3 and (q.unit, q.shape) == (unit, shape)
            for q, (lo, hi, unit, shape) in zip(found, gold, strict=True)
        )
    return Row("own phrases (whole)", right, len(phrases), 0, 0, "")


def own_dates() -> Row:
    """The project's own dates: a phrase is right if every window and nothing else is read."""
    right = 0
    phrases = load("own_dates")
    for text, recorded_on, gold in phrases:
        found = find_dates(text, date.fromisoformat(recorded_on))
        right += [[str(d.from_), str(d.to)] for d in found if d.from_] == gold
    return Row("own dates (whole)", right, len(phrases), 0, 0, "")


def table(rows: Iterable[Row]) -> str:
    """The rows as text."""
    lines = [
        f"{'set':22} {'right':>5} {'items':>5} {'%':>6} {'left out':>8} {'stray':>5}  best library %"
    ]
    for r in rows:
        lines.append(
            f"{r.name:22} {r.right:5} {r.items:5} {100 * r.share:6.1f} {r.left_out:8} {r.stray:5}  {r.best}"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(table(score_quantities()))
