"""Whole numbers in tokens, as hive labels are said: "seven", "21", "twenty one"."""

from __future__ import annotations

from collections.abc import Sequence

_ONES = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
_TEENS = [
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_HOMOPHONES = {"for": "four", "fore": "four", "ate": "eight", "sicks": "six"}  # before "teen"
UNITS = {word: n for n, word in enumerate(_ONES)}
SMALL = UNITS | {word: n for n, word in enumerate(_TEENS, 10)}
TENS = {word: n for n, word in enumerate(_TENS, 2) for n in (n * 10,)} | {"fourty": 40}


def read_integer(low: Sequence[str], at: int) -> tuple[int, int] | None:
    """The whole number that starts at token `at`: (value, number of tokens), or None.

    >>> read_integer(["twenty", "-", "one"], 0)
    (21, 3)
    >>> read_integer(["seven", "teen"], 0)
    (17, 2)
    """
    word = low[at]
    if word.isdecimal() and len(word) <= 4:
        return int(word), 1
    following = [w for w in low[at + 1 : at + 3] if w != "-"][:1]
    skip = 2 + (low[at + 1 : at + 2] == ["-"])
    if word in TENS:
        if following and UNITS.get(following[0]):
            return TENS[word] + UNITS[following[0]], skip
        return TENS[word], 1
    if following == ["teen"] and UNITS.get(_HOMOPHONES.get(word, word)):
        return UNITS[_HOMOPHONES.get(word, word)] + 10, skip
    if word in SMALL:
        return SMALL[word], 1
    return None
