"""The words around a number that make it inexact, or one end of a range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fieldvoice.extraction.quantities.tokens import Token, low_at, starts_phrase
from fieldvoice.extraction.quantities.vocabulary import Phrases, Vocabulary

Bound = Literal["at least", "up to"]
_SENTENCE_ENDS = (".", "?", "!", ";")
_FAR = 7  # words after the number within which "I'd say" or "roughly" still speaks of it
_ONLY_BESIDE = ("some", "odd", "ish", "something", "tops", "-", "and")
_OR_MORE = {"more": "at least", "better": "at least", "less": "up to", "fewer": "up to"}


@dataclass(frozen=True, slots=True)
class Context:
    """How exact a number is; `first` and `end` are its tokens with the words of its bound."""

    first: int
    end: int
    approx: bool
    bound: Bound | None


def around(
    tokens: Sequence[Token], first: int, end: int, words: Vocabulary, *, measured: bool = False
) -> Context:
    """Read the words before and after the number over the tokens `first` to `end`."""
    start, bound = _bound_before(tokens, first, words, measured=measured)
    stop = end
    if bound is None and low_at(tokens, end) == "or":
        said = _OR_MORE.get(low_at(tokens, end + 1))
        if said is not None:
            bound, stop = "at least" if said == "at least" else "up to", end + 2
    approx = _before(tokens, start, words) or _after(tokens, stop, words)
    return Context(start, stop, approx, bound)


def _bound_before(
    tokens: Sequence[Token], first: int, words: Vocabulary, *, measured: bool
) -> tuple[int, Bound | None]:
    least = _ends_with(tokens, first, words.at_least)
    most = _ends_with(tokens, first, words.up_to)
    if least or most:  # "no more than" holds "more than"
        return first - max(least, most), "at least" if least > most else "up to"
    word = low_at(tokens, first - 1)
    if word in ("over", "under") and low_at(tokens, first - 2) in words.sets["nearly_at"]:
        return first, None
    if word == "above" or measured:
        if word in words.sets["at_least_of_measure"]:
            return first - 1, "at least"
        if word in words.sets["up_to_of_measure"]:
            return first - 1, "up to"
    return first, None


def _ends_with(tokens: Sequence[Token], end: int, table: Phrases) -> int:
    """How many words of a phrase of the table end at a place; 0 if none does."""
    for phrase in table.get(low_at(tokens, end - 1), ()):
        if starts_phrase(tokens, end - len(phrase), phrase):
            return len(phrase)
    return 0


def _before(tokens: Sequence[Token], first: int, words: Vocabulary) -> bool:
    at = first
    if low_at(tokens, at - 1) == ",":
        at -= 1
    if low_at(tokens, at - 1) == "some" and at != first:
        return False
    return bool(_ends_with(tokens, at, words.approx_before))


def _after(tokens: Sequence[Token], end: int, words: Vocabulary) -> bool:
    for i in range(end, min(end + _FAR, len(tokens))):
        token = tokens[i]
        if token.low in _SENTENCE_ENDS or (i > end and token.kind == "digits"):
            return False
        beside = i == end
        for phrase in words.approx_after.get(token.low, ()):
            if (beside or phrase[0] not in _ONLY_BESIDE) and starts_phrase(tokens, i, phrase):
                return True
    return False
