"""Several numbers said as one: counting aloud, ranges, ratios."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.extraction.quantities.amounts import Amount, read_amount
from fieldvoice.extraction.quantities.clock import HALVES_OF_DAY
from fieldvoice.extraction.quantities.context import around
from fieldvoice.extraction.quantities.marks import is_label
from fieldvoice.extraction.quantities.model import Shape
from fieldvoice.extraction.quantities.ranges import read_range
from fieldvoice.extraction.quantities.ratios import read_ratio
from fieldvoice.extraction.quantities.reading import Found, quote
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.vocabulary import Vocabulary
from fieldvoice.number_words import CARDINALS


def read_aloud(
    text: str, tokens: Sequence[Token], first: Amount, words: Vocabulary
) -> Found | None:
    """Counting aloud, "one, two, three ... nine": the last number counts."""
    if first.kind not in ("cardinal", "digits") or first.unit:
        return None
    values, end, i, dots = [first.value], first.end, first.end, False
    while low_at(tokens, i) in (",", "...", "…", "-") or _goes_on(tokens, i, values):
        dots |= low_at(tokens, i) in ("...", "…")
        i += low_at(tokens, i) in (",", "...", "…", "-")
        if low_at(tokens, i) in (",", "...", "…"):
            continue
        following = read_amount(tokens, i, words)
        step = following.value - values[-1] if following else 0
        if (
            following is None
            or following.kind not in ("cardinal", "digits")
            or step < 1
            or (step > 1 and not dots)
        ):
            break
        values.append(following.value)
        end = i = following.end
        if following.unit:
            break
    counting = len(values) >= 3 and (values[0] == 1 or dots)
    if not counting or is_label(tokens, first.first, first.end, words):
        return None
    hit = read_amount(tokens, end - 1, words)
    found = quote(text, tokens, (first.first, end), values[-1], "count_aloud")
    return end, replace(found, unit=hit.unit if hit and hit.end == end else None)


def _goes_on(tokens: Sequence[Token], i: int, values: list[float]) -> bool:
    """ "One two three": from one on, the commas may be missing."""
    return values[0] == 1 and CARDINALS.get(low_at(tokens, i)) == values[-1] + 1


def read_spread(
    text: str, tokens: Sequence[Token], first: Amount, words: Vocabulary
) -> Found | None:
    """A range: "six to eight weeks"."""
    spread = read_range(tokens, first, words)
    if spread is None:
        return None
    if low_at(tokens, spread.end) in HALVES_OF_DAY:  # "between four and six pm"
        end = spread.end + 1
        found = quote(text, tokens, (spread.first, end), spread.lo, "clock")
        return end, replace(found, hi=spread.hi)
    label = (
        first.unit is None
        and spread.unit is None
        and is_label(tokens, first.first, spread.end, words)
    )
    if is_label(tokens, first.first, first.end, words) and not label:
        return None
    shape: Shape = "label" if label else "container" if spread.container else "number"
    if shape == "number" and spread.unit:
        whole = spread.unit == "percent" and _of_whole(tokens, spread.end, words)
        shape = "share" if whole else "measure"
    unit = spread.unit
    if unit is None and spread.hi <= 1 and first.kind == "fraction":
        unit, shape = "1", "share"
    found = quote(text, tokens, (spread.first, spread.end), spread.lo, shape)
    context = around(tokens, spread.first, spread.end, words)
    return spread.end, replace(
        found, hi=spread.hi, unit=unit, approx=spread.approx or context.approx
    )


def _of_whole(tokens: Sequence[Token], end: int, words: Vocabulary) -> bool:
    return low_at(tokens, end) in words.sets["share_words"] | {"of"}


def read_mix(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> Found | None:
    """A ratio: "two to one"."""
    ratio = read_ratio(tokens, at, words)
    if ratio is None:
        return None
    found = quote(text, tokens, (ratio.first, ratio.end), ratio.value, "ratio")
    context = around(tokens, ratio.first, ratio.end, words)
    return ratio.end, replace(
        found, unit=ratio.unit, approx=context.approx, respelled=ratio.respelled
    )
