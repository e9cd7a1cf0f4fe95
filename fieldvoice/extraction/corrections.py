"""What the keeper took back: "five frames, no, call it six" is six."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fieldvoice.extraction.nouns import noun_after
from fieldvoice.trade.load import trade_file

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates

REACH = 14  # tokens between a number and the one that replaces it
CLOSE = 6  # tokens before a number in which the correction must be said


def takes_back(candidates: Candidates, first: int, last: int) -> bool:
    """Whether a correction is said among tokens first to last (exclusive)."""
    words = " ".join(t.low for t in candidates.document.tokens[first:last])
    return any(f" {cue} " in f" {words} " for cue in trade_file("cues")["corrections"])


def correct_numbers(candidates: Candidates, facts: Sequence[Fact]) -> tuple[Fact, ...]:
    """Facts with every number that was taken back replaced by the one said instead."""
    numbers = {n: {o.number: o for o in fact.numbers} for n, fact in enumerate(facts)}
    corrected: set[int] = set()
    for wrong in range(len(candidates.quantities) - 1):
        right = wrong + 1
        fact = next((n for n, owned in numbers.items() if wrong in owned), None)
        other = next((n for n, owned in numbers.items() if right in owned), fact)
        if fact is None or not _replaces(candidates, wrong, right):
            continue
        if other != fact and noun_after(candidates, candidates.quantities[right]):
            continue  # it counts a thing of its own
        for owned in numbers.values():
            owned.pop(right, None)
        numbers[fact][right] = replace(numbers[fact].pop(wrong), number=right)
        corrected.add(fact)
    return tuple(
        replace(
            fact,
            numbers=tuple(numbers[n][k] for k in sorted(numbers[n])),
            corrected=n in corrected,
        )
        for n, fact in enumerate(facts)
    )


def _replaces(candidates: Candidates, wrong: int, right: int) -> bool:
    """Whether a number is said in place of the one before: same sort, a correction between."""
    a, b = candidates.quantities[wrong], candidates.quantities[right]
    if b.first - a.last > REACH or not takes_back(
        candidates, max(a.last, b.first - CLOSE), b.first
    ):
        return False
    if "ratio" in (a.shape, b.shape):
        return a.shape == b.shape
    hive = any(m.first <= b.first < m.last for m in candidates.mentions)
    return a.unit == b.unit or (b.unit is None and not hive)
