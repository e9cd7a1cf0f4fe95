"""A recap that says something else: "so, eight got two pounds" after "one pound on eight".

The first saying is kept; the fact is marked, and what the recap said goes to its details,
so that the keeper sees both.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fieldvoice.extraction.nouns import noun_after
from fieldvoice.extraction.quantities.vocabulary import vocabulary
from fieldvoice.extraction.values import value_of
from fieldvoice.trade.load import trade_file

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates, Number
    from fieldvoice.extraction.labels import Mention
    from fieldvoice.types import Value

OPENING = 6  # tokens at the start of a sentence in which a recap announces itself
LATE = 0.55  # a recap stands in the later part of a narration


def mark_conflicts(candidates: Candidates, facts: Sequence[Fact]) -> tuple[Fact, ...]:
    """Facts with `recap` set where a later recap gives another number or another hive.

    What a recap repeats is no fact of its own.
    """
    told = [f for f in facts if not _repeats(candidates, facts, f)]
    said: dict[int, str] = {}
    for mention, numbers in _recaps(candidates, told):
        for number in numbers:
            n = _contradicted(candidates, told, mention, number)
            if n is not None:
                noun = number.unit or noun_after(candidates, number) or ""
                named = candidates.document.said(mention.first, mention.last)
                said.setdefault(n, f"{named}: {number.said} {noun}".strip())
    return tuple(replace(f, recap=said[n]) if n in said else f for n, f in enumerate(told))


def _repeats(candidates: Candidates, facts: Sequence[Fact], fact: Fact) -> bool:
    """Whether a fact stands in a recap and was told before, of the same hive."""
    tokens = candidates.document.tokens
    same = [
        f
        for f in facts
        if f.anchor < fact.anchor
        and (f.kind, f.action) == (fact.kind, fact.action)
        and (fact.mention is not None and _names(f, fact.mention))
        and tokens[f.anchor].sentence != tokens[fact.anchor].sentence
    ]
    if not same or fact.status in ("planned", "skipped"):
        return False
    first, last = next(s for s in _sentences(candidates) if s[0] <= fact.anchor < s[1])
    here = sum(1 for m in candidates.mentions if m.labels and first <= m.first < last)
    return here > 0 and _is_recap(candidates, first, last, here)


def _recaps(
    candidates: Candidates, facts: Sequence[Fact]
) -> Iterator[tuple[Mention, list[Number]]]:
    """Each hive named in a recap, with the numbers that stand by it and belong to no fact."""
    tokens = candidates.document.tokens
    owned = {o.number for f in facts for o in f.numbers}
    free = [q for n, q in enumerate(candidates.quantities) if n not in owned]
    for first, last in _sentences(candidates):
        here = [m for m in candidates.mentions if m.labels and first <= m.first < last]
        if not here or not _is_recap(candidates, first, last, len(here)):
            continue
        for mention in here:
            cut = [i for i in range(first, last) if tokens[i].low in (",", ";", "and", ".", ":")]
            a = max((i for i in cut if i < mention.first), default=first)
            b = min((i for i in cut if i >= mention.last), default=last)
            yield mention, [q for q in free if a <= q.first < b and not _inside(q, mention)]


def _inside(number: Number, mention: Mention) -> bool:
    return mention.first <= number.first < mention.last


def _sentences(candidates: Candidates) -> list[tuple[int, int]]:
    tokens = candidates.document.tokens
    starts = [i for i, t in enumerate(tokens) if i == 0 or t.sentence != tokens[i - 1].sentence]
    return list(zip(starts, [*starts[1:], len(tokens)], strict=True))


def _is_recap(candidates: Candidates, first: int, last: int, mentions: int) -> bool:
    tokens = candidates.document.tokens
    if first < LATE * len(tokens):
        return False
    words = " ".join(t.low for t in tokens[first : min(last, first + OPENING)] if t.low != ",")
    cues = [c for c in trade_file("cues")["recaps"] if f" {c} " in f" {words} "]
    return bool(cues) and (mentions > 1 or any(len(c) > 2 for c in cues))


def _contradicted(
    candidates: Candidates, facts: Sequence[Fact], mention: Mention, number: Number
) -> int | None:
    """The fact that the recap's number goes against, if there is just one way to read it."""
    unit = number.unit or noun_after(candidates, number)
    if unit is None or number.shape == "ratio":
        return None
    alike = [
        (n, value)
        for n, fact in enumerate(facts)
        if fact.anchor < mention.first and fact.status != "planned" and fact.mention
        for owned in fact.numbers
        if _comparable((value := value_of(candidates, fact, owned)).unit, unit)
    ]
    mine = [(n, v) for n, v in alike if _names(facts[n], mention)]
    if mine:
        agree = any(_equal(v, number, unit) for _, v in mine)
        return None if agree or len({n for n, _ in mine}) > 1 else mine[0][0]
    equal = {n for n, v in alike if _equal(v, number, unit)}
    return equal.pop() if len(equal) == 1 else None


def _names(fact: Fact, mention: Mention) -> bool:
    return bool(fact.mention and set(fact.mention.labels) & set(mention.labels))


def _comparable(told: str | None, recap: str) -> bool:
    """Units of one dimension, or the same thing counted."""
    units = vocabulary().units
    if told is not None and told in units and recap in units:
        return units[told].dimension == units[recap].dimension
    return told is not None and told.split()[-1] == recap.split()[-1]


def _equal(told: Value, recap: Number, unit: str) -> bool:
    same = told.unit == unit or (told.unit or "").split()[-1:] == unit.split()[-1:]
    return same and math.isclose(told.lo, recap.lo) and math.isclose(told.hi, recap.hi)
