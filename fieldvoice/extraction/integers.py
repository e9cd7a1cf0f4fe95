"""Whole numbers in tokens, as hive labels are said: "seven", "21", "twenty one"."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.number_words import ONES, TEENS, TENS

_HOMOPHONES = {"for": "four", "fore": "four", "ate": "eight", "sicks": "six"}  # before "teen"
# "nil" and "nought" are amounts, never a hive
UNITS = {word: n for word, n in ONES.items() if n or word == "zero"}
SMALL = UNITS | TEENS


def read_integer(low: Sequence[str], at: int) -> tuple[int, int] | None:
    """The whole number that starts at token `at`: (value, number of tokens), or None.

    >>> read_integer(["twenty", "-", "one"], 0)
    (21, 3)
    >>> read_integer(["seven", "teen"], 0)
    (17, 2)
    >>> read_integer(["one", "-", "oh", "-", "four"], 0)
    (104, 5)
    """
    word = low[at]
    if word.isdecimal() and len(word) <= 4:
        return int(word), 1
    following = [w for w in low[at + 1 : at + 3] if w != "-"][:1]
    skip = 2 + (low[at + 1 : at + 2] == ["-"])
    if word in UNITS and low[at + 1 : at + 2] in (["oh"], ["-"]) and (name := _with_oh(low, at)):
        return name
    if word in TENS:
        if following and UNITS.get(following[0]):
            return TENS[word] + UNITS[following[0]], skip
        return TENS[word], 1
    if following == ["teen"] and UNITS.get(_HOMOPHONES.get(word, word)):
        return UNITS[_HOMOPHONES.get(word, word)] + 10, skip
    if word in SMALL:
        return SMALL[word], 1
    return None


def _with_oh(low: Sequence[str], at: int) -> tuple[int, int] | None:
    """ "One oh four" is 104: (value, number of tokens)."""
    words = [(n, w) for n, w in enumerate(low[at : at + 5]) if w != "-"]
    if len(words) < 3 or words[1][1] not in ("oh", "o") or words[2][1] not in UNITS:
        return None
    return UNITS[words[0][1]] * 100 + UNITS[words[2][1]], words[2][0] + 1
