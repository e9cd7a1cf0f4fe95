"""Past or future: the tense of the clause a date stands in."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from fieldvoice.extraction.dates.model import Direction
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.trade.load import trade_file

_ENDS = (".", "?", "!", ";", "...", "…")
_AUXILIARIES = ("was", "were", "had", "did")
_MODALS = (
    "will", "'ll", "must", "should", "shall", "can", "could", "may", "might", "gonna", "gotta",
)  # fmt: skip
_BE = ("'m", "'re", "'s", "am", "is", "are")


@cache
def _words() -> tuple[frozenset[str], frozenset[str], frozenset[str], frozenset[str]]:
    table = trade_file("dates")["tense"]
    return (
        frozenset(table["past"]),
        frozenset(table["future"]),
        frozenset(table["describes"]),
        frozenset(table["not_past"]),
    )


def tense_at(tokens: Sequence[Token], first: int, end: int) -> Direction | None:
    """The tense around the date over the tokens `first` to `end`, or None where none shows.

    The nearest cue before it in its sentence speaks first, then the nearest behind it.
    """
    start = first
    while start > 0 and tokens[start - 1].low not in _ENDS:
        start -= 1
    for i in range(first - 1, start - 1, -1):
        if cue := cue_at(tokens, i):
            return cue
    for i in range(end, len(tokens)):
        if tokens[i].low in _ENDS:
            break
        if cue := cue_at(tokens, i):
            return cue
    return None


def cue_at(tokens: Sequence[Token], i: int) -> Direction | None:
    """What one word says of past or future, or None."""
    past, future, describes, not_past = _words()
    word, before = tokens[i].low, low_at(tokens, i - 1)
    if tokens[i].kind != "word":
        return None
    if word.endswith("ing") and len(word) > 4:
        return _going_on(tokens, i)
    if word in ("'ve", "ve", "have", "has", "had", "got") and low_at(tokens, i + 1) in (
        "to",
        "got",
    ):
        return "past" if word == "had" else "future"
    if before in ("'t", "to", *_MODALS):
        return _led(tokens, i) if word in past | future or word.endswith("ed") else None
    if word in past:
        return None if before in describes and word not in _AUXILIARIES else "past"
    if word.endswith("ed") and len(word) > 4 and word not in not_past:
        return None if before in describes else "past"
    return "future" if word in future else None


def _going_on(tokens: Sequence[Token], i: int) -> Direction | None:
    """ "I'm splitting" is to come, "I was splitting" and "was going to split" have been."""
    before = low_at(tokens, i - 1)
    if before in _BE:
        return "future"
    return "past" if before in ("was", "were") else None


def _led(tokens: Sequence[Token], i: int) -> Direction | None:
    """The tense of a verb behind "to", "n't" or "will": that of the word which leads it."""
    before, leader = low_at(tokens, i - 1), low_at(tokens, i - 2)
    if before == "to":
        return cue_at(tokens, i - 2) or "future" if i >= 2 else "future"
    if before == "'t":
        if leader in ("hasn", "haven"):
            return None  # "if she hasn't picked up by the tenth"
        return "past" if leader in ("didn", "couldn", "wasn", "weren", "hadn") else "future"
    return "future"
