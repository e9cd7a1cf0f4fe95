"""Number words in a row: "two thousand six hundred and forty five", "eighteen point two"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.number_words import CARDINALS, ONES, SCALES, TEENS, TENS

ARTICLES = ("a", "an", "another")


@dataclass(frozen=True, slots=True)
class Number:
    """A number over the tokens `first` to `end`, end exclusive."""

    first: int
    end: int
    value: float
    kind: str  # "cardinal", "digits", "decimal", "fraction", "mixed", "couple", "dozen", "ordinal"
    approx: bool = False


_MAY_FOLLOW = {  # what may come after what inside one number
    "start": ("one", "teen", "tens"),
    "one": ("hundred", "scale"),
    "teen": ("hundred", "scale"),
    "tens": ("one", "hundred", "scale"),
    "hundred": ("one", "teen", "tens", "scale"),
    "scale": ("one", "teen", "tens", "hundred"),
}


def read_cardinal(tokens: Sequence[Token], at: int, *, bare: bool = False) -> Number:
    """Number words from a place on; the caller knows that one stands there."""
    total, part, i, last = 0, 0, at, "start"
    if bare:  # "hundred pounds"
        part, last = 1, "one"
    elif tokens[at].low in ARTICLES:
        part, i, last = 1, at + 1, "one"
    while i < len(tokens):
        step = _next_word(tokens, i, last)
        if step is None:
            break
        i, word = step
        if word == "hundred":
            part, last = part * 100, "hundred"
        elif word in SCALES:
            total, part, last = total + part * SCALES[word], 0, "scale"
        else:
            part += CARDINALS[word]
            last = "tens" if word in TENS else "one" if word in ONES else "teen"
        i += 1
    return Number(at, i, float(total + part), "cardinal")


def kind_of(word: str) -> str:
    """What a number word may stand as: "one", "teen", "tens", "hundred", "scale", or ""."""
    if word in TENS:
        return "tens"
    if word in TEENS:
        return "teen"
    if word in ONES:
        return "one"
    if word == "hundred":
        return "hundred"
    return "scale" if word in SCALES else ""


def _next_word(tokens: Sequence[Token], i: int, last: str) -> tuple[int, str] | None:
    word = low_at(tokens, i)
    if word == "-" and last != "start" and tokens[i].glued:
        i, word = i + 1, low_at(tokens, i + 1)
        if not (word and tokens[i].glued):
            return None
    elif word == "and" and last in ("hundred", "scale"):
        i, word = i + 1, low_at(tokens, i + 1)
        if kind_of(word) not in ("one", "teen", "tens"):
            return None
    kind = kind_of(word)
    if kind not in _MAY_FOLLOW[last] or (ONES.get(word) == 0 and last != "start"):
        return None
    if kind == "hundred" and last == "scale":
        return None
    if last == "hundred" and low_at(tokens, i + 1) == "hundred":
        return None  # "a hundred and five hundred" are two numbers
    return i, word


def read_decimals(tokens: Sequence[Token], at: int, whole: Number) -> Number | None:
    """Digits after "point", read out or written: "two point seven five", "18 point 2"."""
    if low_at(tokens, at) != "point":
        return None
    i, digits = at + 1, ""
    while i < len(tokens):
        word = tokens[i].low
        if word in ONES:
            digits += str(ONES[word])
        elif word == "oh" and digits == "":
            digits += "0"
        elif tokens[i].kind == "digits" and not digits and word.isdecimal():
            digits, i = word, i + 1
            break
        elif word in CARDINALS and not digits:
            tail = read_cardinal(tokens, i)
            digits, i = str(int(tail.value)), tail.end
            break
        else:
            break
        i += 1
    if not digits or len(digits) > 9:
        return None
    return Number(whole.first, i, whole.value + float("0." + digits), "decimal")


def is_whole(text: str) -> bool:
    """Whether a text is a whole number in a few digits."""
    return text.isdecimal() and len(text) <= 5
