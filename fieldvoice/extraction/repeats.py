"""The same fact said in two words is one fact: "pulled four frames, nine kilos of honey"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates

NEAR = 14  # tokens
ONE_FACT = ("harvest", "mites")  # kinds of which a sentence tells one, in several numbers


def merge_repeats(candidates: Candidates, facts: Sequence[Fact]) -> tuple[Fact, ...]:
    """Join a fact to the one before if both say the same of the same hive, close together."""
    out: list[Fact] = []
    for fact in facts:
        before = next(
            (n for n in range(len(out) - 1, -1, -1) if _same(candidates, out[n], fact)), None
        )
        if before is None:
            out.append(fact)
        else:
            out[before] = _joined(out[before], fact)
    return tuple(out)


def _same(candidates: Candidates, a: Fact, b: Fact) -> bool:
    if (a.kind, a.action, a.status, a.mention) != (b.kind, b.action, b.status, b.mention):
        return False
    tokens = candidates.document.tokens
    apart = b.anchor - a.anchor
    if apart > NEAR or tokens[b.anchor].sentence - tokens[a.anchor].sentence > 1:
        return False
    if a.day != b.day and a.day and b.day:
        return False
    return a.item == b.item or a.kind in ONE_FACT


def _joined(a: Fact, b: Fact) -> Fact:
    """The surer one's item, both's numbers."""
    main = a if a.sure["anchor"] >= b.sure["anchor"] else b
    numbers = {o.number: o for o in (*a.numbers, *b.numbers)}
    return replace(
        main,
        anchor=a.anchor,
        numbers=tuple(numbers[n] for n in sorted(numbers)),
        day=a.day or b.day,
        corrected=a.corrected or b.corrected,
    )
