"""Past or future: the tense of the clause a date stands in."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from fieldvoice.extraction.dates.model import Direction
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.trade.load import trade_file

_ENDS = (".", "?", "!", ";", "...", "…")
_BE = ("'m", "'re", "'s", "am", "is", "are")
_PAST_PERFECT = ("'d",)


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

    The nearest cue before it in its sentence speaks first, then the nearest behind it; a
    fragment without a verb ("Tuesday, if he answers.") follows the sentence before.
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
    if word == "going" and low_at(tokens, i + 1) not in (
        "to",
        "up",
        "on",
        "in",
        "back",
        "out",
        "home",
        "over",
    ):
        return None
    if word.endswith("ing") and len(word) > 4 and before in _BE:
        return "future"
    if word == "to" and before in ("have", "has", "'ve"):
        return "future"
    if word in ("'ve", "ve") and low_at(tokens, i + 1) in ("to", "got"):
        return "future"
    if word == "got" and before == "'ve":
        return None
    if word in past:
        return None if before in describes and word not in ("was", "were", "had", "did") else "past"
    if word.endswith("ed") and len(word) > 4 and word not in not_past:
        return None if before in describes else "past"
    if word in future:
        return "future"
    return None
