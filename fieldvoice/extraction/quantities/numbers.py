"""Spoken and written numbers at one place of a text: "two and a half", "1,200", "3/8".

Only the number itself is read here, without unit, range or ratio.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.extraction.quantities.cardinals import (
    ARTICLES,
    Number,
    is_whole,
    kind_of,
    read_cardinal,
    read_decimals,
)
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.number_words import (
    CARDINALS,
    DENOMINATORS,
    GLYPHS,
    ONES,
    ORDINAL_ONES,
    ORDINALS,
    SCALES,
    SIGNS,
    TENS,
)


def read_number(tokens: Sequence[Token], at: int) -> Number | None:
    """The longest number that starts at a token, or None.

    >>> from fieldvoice.extraction.quantities.tokens import tokenize
    >>> read_number(tokenize("three and a quarter inches"), 0).value
    3.25
    """
    if at >= len(tokens):
        return None
    if tokens[at].low in SIGNS or tokens[at].low in ("-", "−"):
        return _signed(tokens, at)
    found = _ordinal(tokens, at) or _plain(tokens, at)
    if found is None or found.kind == "ordinal":
        return found
    return _with_fraction(tokens, found)


def _signed(tokens: Sequence[Token], at: int) -> Number | None:
    mark = low_at(tokens, at) in ("-", "−")
    if at + 1 >= len(tokens) or (mark and tokens[at].glued and at > 0):
        return None
    if mark and not tokens[at + 1].glued and low_at(tokens, at - 1)[-1:].isdigit():
        return None  # "40 - 50" is a range
    found = _plain(tokens, at + 1)
    if found is None or found.kind not in ("cardinal", "digits", "decimal"):
        return None
    if mark and found.kind != "digits":
        return None
    found = _with_fraction(tokens, found)
    sign = SIGNS.get(low_at(tokens, at), -1)
    return replace(found, first=at, value=sign * found.value)


def _ordinal(tokens: Sequence[Token], at: int) -> Number | None:
    token = tokens[at]
    if token.kind == "ordinal":
        return Number(at, at + 1, float(token.low[:-2]), "ordinal")
    if token.low in TENS:
        dash = low_at(tokens, at + 1) == "-"
        second = ORDINAL_ONES.get(low_at(tokens, at + 1 + dash))
        if second:
            return Number(at, at + 2 + dash, TENS[token.low] + second, "ordinal")
    if token.low in ORDINALS:
        return Number(at, at + 1, float(ORDINALS[token.low]), "ordinal")
    return None


def _plain(tokens: Sequence[Token], at: int) -> Number | None:
    token = tokens[at]
    if token.kind == "digits":
        return _digits(tokens, at)
    if token.low in GLYPHS:
        return Number(at, at + 1, GLYPHS[token.low], "fraction")
    if token.low == "point":
        return read_decimals(tokens, at, Number(at, at, 0.0, "cardinal"))
    if token.low in CARDINALS or (
        token.low in ARTICLES and low_at(tokens, at + 1) in ("hundred", "thousand", "million")
    ):
        found = read_cardinal(tokens, at)
        return read_decimals(tokens, found.end, found) or _of_dozens(tokens, found)
    return _special(tokens, at)


def _digits(tokens: Sequence[Token], at: int) -> Number | None:
    if at and tokens[at].glued and tokens[at - 1].kind == "word":
        return None
    dashed = at > 1 and low_at(tokens, at - 1) == "-" and tokens[at].glued
    if dashed and tokens[at - 1].glued and _is_letter(low_at(tokens, at - 2)):
        return None  # "A-1" is a name
    text = tokens[at].low.replace(",", "")
    if len(text) > _LONGEST:
        return None
    value, end = float(text), at + 1
    if low_at(tokens, end) == "/" and end + 1 < len(tokens):
        below = tokens[end + 1]
        if tokens[end].glued and below.glued and below.kind == "digits":
            if not is_whole(text) or not is_whole(below.low) or float(below.low) == 0:
                return None
            return Number(at, end + 2, value / float(below.low), "fraction")
    if scale := SCALES.get(low_at(tokens, end)):
        rest = _after_scale(tokens, end + 1, scale)
        value, end = value * scale + (rest.value if rest else 0), rest.end if rest else end + 1
        return Number(at, end, value, "digits")
    if low_at(tokens, end) == "dozen":
        return Number(at, end + 1, value * 12, "dozen")
    if low_at(tokens, end) == "point" and (
        more := read_decimals(tokens, end, Number(at, end, value, "digits"))
    ):
        return more
    return Number(at, end, value, "digits")


def _is_letter(word: str) -> bool:
    return len(word) == 1 and word.isalpha()


def _after_scale(tokens: Sequence[Token], at: int, scale: int) -> Number | None:
    """What "3 hundred" goes on with: "and 21", "fifty"."""
    joiner = low_at(tokens, at) == "and"
    i = at + joiner
    if i >= len(tokens) or read_fraction(tokens, i) is not None:
        return None
    rest = read_cardinal(tokens, i) if tokens[i].low in CARDINALS else None
    if tokens[i].kind == "digits" and tokens[i].low.isdecimal() and joiner:
        rest = Number(i, i + 1, float(tokens[i].low), "digits")
    return rest if rest is not None and 0 < rest.value < scale else None


def _of_dozens(tokens: Sequence[Token], found: Number) -> Number:
    if low_at(tokens, found.end) == "dozen":
        return Number(found.first, found.end + 1, found.value * 12, "dozen")
    return found


_LONGEST = 15  # digits a double holds; more is no number that is said
_NOT_ALONE = (
    "per", "every", "each", "in", "of", "out", "the", "several", "few", "many", "some", "any",
)  # fmt: skip


def _special(tokens: Sequence[Token], at: int) -> Number | None:
    """ "half", "a quarter", "a dozen", "a couple", "couple hundred", "half a dozen"."""
    word = tokens[at].low
    start = at
    if word in ARTICLES:
        at += 1
        if low_at(tokens, at) in ("good", "full", "whole", "solid"):
            at += 1
    name = low_at(tokens, at)
    if name == "half":
        return _half(tokens, start, at)
    if name in ("hundred", "thousand") and low_at(tokens, start - 1) not in _NOT_ALONE:
        return replace(read_cardinal(tokens, at, bare=True), first=start)
    if name == "dozen" and start != at:
        return Number(start, at + 1, 12.0, "dozen")
    if name == "couple" or (name == "pair" and start != at and low_at(tokens, at + 1) == "of"):
        scale = SCALES.get(low_at(tokens, at + 1), 1)
        if low_at(tokens, at + 1) == "dozen":
            scale = 12
        return Number(start, at + 1 + (scale > 1), 2.0 * scale, "couple", name == "couple")
    if name == "quarter" or (start != at and name in DENOMINATORS and not name.endswith("s")):
        return Number(start, at + 1, 1 / DENOMINATORS[name], "fraction")
    if start != at and low_at(tokens, start + 1) in ("good", "full", "whole", "solid"):
        found = _plain(tokens, at) if kind_of(name) and name != "one" else None
        return replace(found, first=start) if found and found.kind != "ordinal" else None
    return None


def _half(tokens: Sequence[Token], start: int, at: int) -> Number | None:
    after = low_at(tokens, at + 1)
    if after == "dozen" or (after == "a" and low_at(tokens, at + 2) == "dozen"):
        return Number(start, at + 2 + (after == "a"), 6.0, "dozen", approx=True)
    if after == "a" and (scale := SCALES.get(low_at(tokens, at + 2))):
        return Number(start, at + 3, scale / 2, "cardinal")
    if after == "past":
        return None
    return Number(start, at + 1, 0.5, "fraction")


def read_fraction(tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
    """ "a half", "half", "three quarters", "1/2" at a place: (end, value below one), or None."""
    word = low_at(tokens, at)
    if word in GLYPHS:
        return at + 1, GLYPHS[word]
    top = 1.0
    if word == "-" and low_at(tokens, at + 1) in {"a", *ONES}:  # "two-and-a-half"
        at, word = at + 1, low_at(tokens, at + 1)
    if word in ARTICLES or word == "one":
        at += 1
    elif word in ONES:
        top, at = float(ONES[word]), at + 1
    elif word.isdecimal() and len(word) <= 2:
        top, at = float(word), at + 1
        if low_at(tokens, at) == "/":
            below = low_at(tokens, at + 1)
            if tokens[at].glued and is_whole(below) and top < float(below):
                return at + 2, top / float(below)
            return None
    if low_at(tokens, at) == "-":
        at += 1
    name = low_at(tokens, at)
    below_words = DENOMINATORS.get(name)
    if below_words is None or (top > 1 and top >= below_words) or name == "second":
        return None
    return at + 1, top / below_words


def _with_fraction(tokens: Sequence[Token], found: Number) -> Number:
    """Take in "and a half", or the denominator of "three quarters"."""
    end = found.end
    big = SCALES.get(low_at(tokens, end - 1), 1)
    if big >= 1000 and low_at(tokens, end) == "and" and (tail := read_fraction(tokens, end + 1)):
        return Number(
            found.first, tail[0], found.value + tail[1] * big, "mixed"
        )  # a million and a half
    if (
        low_at(tokens, end - 2) == "and"
        and end - 2 > found.first
        and (tail := read_fraction(tokens, end - 1))
    ):  # "a hundred and three quarters"
        ones = ONES.get(low_at(tokens, end - 1), 0)
        return Number(found.first, tail[0], found.value - ones + tail[1], "mixed")
    if found.kind in ("cardinal", "digits", "couple", "dozen") and found.value.is_integer():
        glyph = low_at(tokens, end)
        if glyph in GLYPHS:
            return Number(found.first, end + 1, found.value + GLYPHS[glyph], "mixed")
        hyphen = low_at(tokens, end) == "-" and low_at(tokens, end + 1) == "and"
        joint = end + hyphen
        if low_at(tokens, joint) == "and" and (tail := read_fraction(tokens, joint + 1)):
            scale = SCALES.get(low_at(tokens, tail[0]), 1)  # "two and a half thousand"
            dozen = 12 if found.kind == "dozen" else 1  # "a dozen and a half"
            value = (found.value + tail[1] * dozen) * scale
            return Number(found.first, tail[0] + (scale > 1), value, "mixed", found.approx)
        written = found.kind == "digits" and low_at(tokens, end + 1) == "/"
        if written and not tokens[end].glued and (tail := read_fraction(tokens, end)):  # "2 1/2"
            return Number(found.first, tail[0], found.value + tail[1], "mixed")
        dash = low_at(tokens, end) == "-" and low_at(tokens, end + 1) in DENOMINATORS
        name = low_at(tokens, end + dash)
        if name in DENOMINATORS and found.value >= 1 and _is_denominator(found, name):
            return Number(found.first, end + 1 + dash, found.value / DENOMINATORS[name], "fraction")
    return found


def _is_denominator(found: Number, name: str) -> bool:
    # "two third frames" does not occur; "one third", "three eighths", "three quarter inch" do.
    return name.endswith("s") or name in ("half", "quarter") or found.value == 1
