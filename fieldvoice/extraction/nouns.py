"""The thing that a number counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldvoice.extraction.things import singular

if TYPE_CHECKING:
    from fieldvoice.extraction.candidates import Candidates, Number

_STOPS = {
    ",", ".", "?", "!", "...", "-", "and", "or", "but", "on", "in", "at", "with", "so", "per", "along", "under",
    "over", "off", "around", "between", "down", "up", "from", "into", "onto", "by", "here", "there", "left",
    "for", "to", "is", "are", "was", "were", "still", "now", "today", "each", "apiece",
}  # fmt: skip


def noun_after(candidates: Candidates, number: Number) -> str | None:
    """The thing counted: the first one that follows within three words of the same clause.

    In "four of brood" nothing is named that could be counted, only what is on it.
    """
    tokens = candidates.document.tokens
    starts = {t.first: t for t in candidates.things}
    for i in range(number.last, min(number.last + 4, len(tokens))):
        if tokens[i].low in _STOPS or (i == number.last and tokens[i].low == "of"):
            return None
        if i in starts:
            thing = starts[i]
            while thing.last in starts and _is_singular(tokens[thing.last - 1].low):
                # "medium frames" are frames, "frames brood" are frames too
                thing = starts[thing.last]
            return singular(thing.said.split(" of ")[0])
        if i == number.last and singular(tokens[i].low) != tokens[i].low:
            return singular(tokens[i].low)
    return None


def _is_singular(noun: str) -> bool:
    return singular(noun) == noun
