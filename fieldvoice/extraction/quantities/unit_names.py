"""The unit behind a number: "pounds", "of an inch", "(kg)", "-gallon"."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.quantities.cardinals import Number
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.vocabulary import Vocabulary

BETWEEN = (  # words between a number and its unit that change neither
    "full", "good", "whole", "solid", "more", "extra", "level", "heaped", "heaping", "us",
    "imperial", "big", "straight", "dry", "liquid",
)  # fmt: skip


_AFTER_INCH = ("of", "by", "x", "thick", "wide", "deep", "long", "tall", "high", "across", "gap")


_BRACKETS = {"(": ")", "[": "]", "{": "}", "<": ">"}


def read_unit(
    tokens: Sequence[Token], at: int, words: Vocabulary, *, digits: bool
) -> tuple[int, str] | None:
    """The unit name at a place: (end, name), longest name first. `digits`: digits come before."""
    for said, name, short in words.names.get(low_at(tokens, at), ()):
        if short and not digits:
            continue
        if all(low_at(tokens, at + k) == w for k, w in enumerate(said)) and (
            not short or _short_form_stands(tokens, at, name)
        ):
            return at + len(said), name
    return None


def _short_form_stands(tokens: Sequence[Token], at: int, name: str) -> bool:
    """Whether "in", "c", "m" after digits are a unit and not a word."""
    word, after = low_at(tokens, at), low_at(tokens, at + 1)
    if word == "in":
        if tokens[at].glued:
            return True
        follows = tokens[at + 1].kind if after else "mark"
        return follows == "mark" or after in _AFTER_INCH
    if word == '"':  # inches, unless it closes a quotation
        return sum(t.low == '"' for t in tokens[:at]) % 2 == 0
    if len(word) == 1 and word.isalpha():
        joined = bool(after) and tokens[at + 1].glued
        return not (joined and (after[0].isalnum() or after in ("/", "'", "'s", "'m", "-")))
    return True


def unit_after(
    tokens: Sequence[Token], number: Number, words: Vocabulary
) -> tuple[int, str] | None:
    """The unit that belongs to a number: (end, name), or None."""
    i = number.end
    digits = number.kind == "digits" or tokens[i - 1].kind == "digits"
    if low_at(tokens, i) in ("-", "‑", "–") and tokens[i].glued and low_at(tokens, i + 1):
        return read_unit(tokens, i + 1, words, digits=digits)
    if low_at(tokens, i) in _BRACKETS:
        hit = read_unit(tokens, i + 1, words, digits=digits)
        closed = hit is not None and low_at(tokens, hit[0]) == _BRACKETS[tokens[i].low]
        return (hit[0] + 1, hit[1]) if hit and closed else None
    one = number.value == 1 and low_at(tokens, i) == "second"
    if one and low_at(tokens, number.first) == "one":
        return i + 1, "second"
    for skip in _ways_to_unit(tokens, number):
        hit = read_unit(tokens, i + skip, words, digits=digits and skip == 0)
        if hit is not None:
            return hit
    return None


def _ways_to_unit(tokens: Sequence[Token], number: Number) -> list[int]:
    """How many words may lie between this number and its unit, best first."""
    i, ways = number.end, [0]
    here, then = low_at(tokens, i), low_at(tokens, i + 1)
    below_one = number.kind in ("fraction", "decimal") and abs(number.value) < 1
    if below_one and here == "of" and then in ("a", "an", "one"):
        ways.append(2)
    if below_one and here in ("a", "an"):
        ways.append(1)
    if number.kind in ("couple", "dozen", "fraction") and here == "of":
        ways.append(1)
    if here in BETWEEN:
        ways.append(1)
        if then in BETWEEN or (number.kind == "couple" and then == "of"):
            ways.append(2)
    if here == "or" and then == "so":
        ways.append(2 + (low_at(tokens, i + 2) == "of"))
    return ways
