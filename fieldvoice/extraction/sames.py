""" "Same mix for eight": numbers that a fact takes over from one before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fieldvoice.trade.load import trade_file

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact, Owned
    from fieldvoice.extraction.candidates import Candidates

REACH = 8  # tokens around the anchor in which the word must be said


def take_over(candidates: Candidates, facts: Sequence[Fact]) -> tuple[Fact, ...]:
    """Facts that say "same" with the numbers of the last one of their kind, roles they lack."""
    out: list[Fact] = []
    for fact in facts:
        roles = trade_file("kinds")["same_takes"].get(fact.kind, [])
        said = _says_same(candidates, fact) if roles else ""
        if said:
            mine = {o.role for o in fact.numbers}
            earlier = [f for f in out if f.kind == fact.kind and f.numbers]
            taken = _taken(earlier, [r for r in roles if r not in mine])
            fact = replace(fact, same=taken, same_words=said)
        out.append(fact)
    return tuple(out)


def _says_same(candidates: Candidates, fact: Fact) -> str:
    """The word for "same" in the fact's sentence, close to its anchor."""
    tokens = candidates.document.tokens
    first, last = max(0, fact.anchor - REACH), min(len(tokens), fact.anchor + REACH)
    for i in range(first, last):
        near = tokens[i].sentence == tokens[fact.anchor].sentence
        if near and tokens[i].low in trade_file("cues")["sames"]:
            return candidates.document.said(i, min(i + 2, len(tokens)))
    return ""


def _taken(earlier: Sequence[Fact], roles: Sequence[str]) -> tuple[Owned, ...]:
    out: list[Owned] = []
    for role in roles:
        fact = next((f for f in reversed(earlier) if role in {o.role for o in f.numbers}), None)
        if fact:
            out += [o for o in fact.numbers if o.role == role]
    return tuple(out)
