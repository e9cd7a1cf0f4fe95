"""The words a fact came from: its clause and those that only add to it."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates
    from fieldvoice.extraction.document import Token

_PARTS = {",", ".", "?", "!", "...", ";", ":", "and", "but", "so", "-", "then"}


def quote_spans(candidates: Candidates, facts: Sequence[Fact]) -> list[tuple[int, int]]:
    """Per fact the tokens of its quote, (first, one past the last).

    A sentence is cut into clauses at its punctuation and conjunctions; each clause goes to
    the facts stated in it, a clause without a fact to the fact before it.
    """
    tokens = candidates.document.tokens
    clauses = _clauses(tokens)
    clause_of = {i: n for n, (a, b) in enumerate(clauses) for i in range(a, b)}
    owners: dict[int, list[int]] = {}
    for n, fact in enumerate(facts):
        held = {clause_of[fact.anchor]}
        held |= {clause_of[candidates.quantities[o.number].first] for o in fact.numbers}
        for clause in held:
            owners.setdefault(clause, []).append(n)
    spans = []
    for n, fact in enumerate(facts):
        home = clause_of[fact.anchor]
        first, last = home, home
        while last + 1 < len(clauses) and _joins(
            tokens, clauses, last, owners.get(last + 1, []), n
        ):
            last += 1
        while first > 0 and n in owners.get(first - 1, []):
            first -= 1
        spans.append(_trim(tokens, clauses[first][0], clauses[last][1]))
    return spans


def _joins(
    tokens: Sequence[Token],
    clauses: Sequence[tuple[int, int]],
    last: int,
    owners: list[int],
    n: int,
) -> bool:
    """Whether the next clause still belongs to fact n: it holds its number, or nobody's fact."""
    # a clause opens with its comma or conjunction; a full stop still counts to the one before
    same = tokens[clauses[last][1] - 1].sentence == tokens[clauses[last + 1][1] - 1].sentence
    return n in owners or (same and not owners)


def _clauses(tokens: Sequence[Token]) -> list[tuple[int, int]]:
    cuts = [0]
    for i, token in enumerate(tokens):
        if token.low in _PARTS and i > cuts[-1]:
            cuts.append(i)
    cuts.append(len(tokens))
    return [(a, b) for a, b in pairwise(cuts) if b > a]


def _trim(tokens: Sequence[Token], first: int, last: int) -> tuple[int, int]:
    while first < last - 1 and tokens[first].low in _PARTS:
        first += 1
    while last - 1 > first and tokens[last - 1].low in _PARTS:
        last -= 1
    return first, last
