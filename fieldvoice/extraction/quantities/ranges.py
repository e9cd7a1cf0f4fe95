"""Two numbers that are the ends of a range: "six to eight weeks", "eight or nine"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldvoice.extraction.quantities.amounts import Amount, read_amount
from fieldvoice.extraction.quantities.tokens import DASHES, Token, low_at
from fieldvoice.extraction.quantities.vocabulary import Vocabulary
from fieldvoice.number_words import SCALES


@dataclass(frozen=True, slots=True)
class Range:
    """Two numbers of one unit over tokens, low before high."""

    first: int
    end: int
    lo: float
    hi: float
    unit: str | None
    container: bool = False
    approx: bool = False


def read_range(tokens: Sequence[Token], first: Amount, words: Vocabulary) -> Range | None:
    """The range whose low end is an amount already read, or None."""
    opener = low_at(tokens, first.first - 1)
    joint = _range_joint(tokens, first, opener)
    if joint is None:
        return None
    at, how = joint
    second = read_amount(tokens, at, words)
    if (
        second is None
        or second.kind == "ordinal"
        or (second.kind == "article" and first.unit is None)
    ):
        return None
    if first.unit and second.unit and first.unit != second.unit:
        return None
    lo = _same_scale(tokens, first, second)
    hi = second.value
    if how == "from" and first.unit and hi < lo:
        lo, hi = hi, lo  # "from minus eighteen degrees to minus thirty four"
    if lo >= hi or not _joins(tokens, (first, second), (lo, hi), how):
        return None
    start = first.first - (opener in ("between", "from"))
    return Range(
        start, second.end, lo, hi, second.unit or first.unit, second.container,
        first.approx or second.approx,
    )  # fmt: skip


def _range_joint(tokens: Sequence[Token], first: Amount, opener: str) -> tuple[int, str] | None:
    i = first.end
    if low_at(tokens, i) in DASHES and low_at(tokens, i + 1) in ("to", "or"):
        i += 1
    word, after = low_at(tokens, i), low_at(tokens, i + 1)
    if word == "and" and opener == "between":
        return i + 1, "between"
    if word in ("to", "through", "till"):
        skip = 2 if low_at(tokens, i + 1) in DASHES and low_at(tokens, i - 1) in DASHES else 1
        return i + skip, "from" if opener == "from" else "to"
    if word == "up" and after == "to":
        return i + 2, "from" if opener == "from" else "to"
    if word == "or":
        return i + 1 + (after in ("maybe", "even", "perhaps")), "or"
    if word in DASHES and word != "—":
        return i + 1, "-"
    if word == "," and first.unit is None:
        return i + 1 + (after == "maybe"), ","
    return None


def _same_scale(tokens: Sequence[Token], first: Amount, second: Amount) -> float:
    """ "Five or six hundred" is five hundred to six hundred."""
    scale = SCALES.get(low_at(tokens, second.end - 1), 1)
    for k in range(second.first, second.end):
        scale = max(scale, SCALES.get(tokens[k].low, 1))
    plain = first.unit is None and first.kind in ("cardinal", "digits", "mixed", "decimal")
    if scale > 1 and plain and first.value < second.value / scale < 100:
        return first.value * scale
    return first.value


def _joins(
    tokens: Sequence[Token],
    pair: tuple[Amount, Amount],
    ends: tuple[float, float],
    how: str,
) -> bool:
    first, second = pair
    lo, hi = ends
    if how == "or":
        return hi <= 4 * max(lo, 1) or second.unit is not None
    if how == "-":
        digits = first.kind == "digits" and second.kind in ("digits", "fraction", "mixed")
        glued = tokens[first.end].glued == tokens[second.first].glued
        return glued and (digits or hi - lo <= max(2, lo / 2))
    if how != ",":
        return True
    # "Two, three frames": neighbours, said in one breath before what they count.
    after = low_at(tokens, second.end)
    counts = second.unit is not None or (bool(after) and tokens[second.end].kind == "word")
    near = hi - lo <= 1 and hi <= 12
    tens = lo >= 10 and lo % 5 == 0 and hi % 5 == 0 and hi - lo in (5, 10)
    return (
        counts
        and (near or tens)
        and after not in ("and", "or", "are", "is", "had", "has", "got", "both")
    )
