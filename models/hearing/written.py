"""How spoken numbers are to be written: "hive seven, twenty two frames" is "hive 7, 22 frames".

The untaught recogniser writes most numbers from ten on in digits and smaller ones as words,
and fieldvoice's prompt asks it for labels in digits. What it is taught agrees with both, so
that it has little to unlearn.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass

from num2words import num2words

from fieldvoice.number_words import CARDINALS, ORDINAL_ONES, ORDINALS, TENS

CUES = ("hive", "hives", "number", "nuc", "colony", "box", "frame")  # a name follows
DIGITS_FROM = 10
ENDINGS = {1: "st", 2: "nd", 3: "rd"}
# A number before one of these is part of something that another number would spoil.
FIXED = re.compile(r"[- ](o'?clock|point|hundred|thousand|year|to one|and a (half|quarter))", re.I)
WORD = re.compile(r"[A-Za-z]+")
DAYS = {word: TENS[word] for word in ("twenty", "thirty")}  # of "twenty first"


@dataclass(frozen=True, slots=True)
class Number:
    """A number in words, with its place."""

    start: int
    end: int
    value: int
    ordinal: bool = False


def say(number: int, rng: random.Random | None = None) -> str:
    """A number in words; with `rng` a hundred may be followed by "and"."""
    joint = " and " if rng and rng.random() < 0.5 else " "
    said = num2words(number).replace(",", "").replace("thousand and", "thousand")
    return said.replace(" and ", joint)


def numbers(text: str) -> Iterator[Number]:
    """Whole and ordinal numbers in words, from left to right."""
    words = list(WORD.finditer(text))
    at = 0
    while at < len(words):
        low = words[at].group().lower()
        if low in ORDINALS:
            yield Number(*words[at].span(), ORDINALS[low], ordinal=True)
            at += 1
        elif low in CARDINALS:
            last, value, ordinal = _longest(text, words, at)
            yield Number(words[at].start(), words[last].end(), value, ordinal)
            at = last + 1
        else:
            at += 1


def _longest(text: str, words: list[re.Match[str]], at: int) -> tuple[int, int, bool]:
    """The last word of the number that begins at a word, its value, whether it is ordinal."""
    before = words[at].group().lower()
    total, part = 0, CARDINALS[before]
    last = at
    while (nxt := last + 1) < len(words):
        if text[words[last].end() : words[nxt].start()] not in (" ", "-"):
            break
        low = words[nxt].group().lower()
        skips = low == "and" and before == "hundred" and nxt + 1 < len(words)
        if skips and text[words[nxt].end() : words[nxt + 1].start()] == " ":
            low, nxt = words[nxt + 1].group().lower(), nxt + 1
            if low not in CARDINALS:
                break
        if low in ORDINAL_ONES and before in DAYS and last == at:
            return nxt, part + ORDINAL_ONES[low], True
        if (before in TENS and 0 < CARDINALS.get(low, 0) < 10) or (
            before in ("hundred", "thousand") and low in CARDINALS
        ):
            part += CARDINALS[low]
        elif low == "hundred" and 0 < part < 10:
            part *= 100
        elif low == "thousand" and part:
            total, part = total + part * 1000, 0
        else:
            break
        before, last = low, nxt
    return last, total + part, False


def written(text: str) -> str:
    """The text as a transcript should have it.

    >>> written("Hive two, twenty two frames of bees, four frames of brood.")
    'Hive 2, 22 frames of bees, four frames of brood.'
    """
    out, at = [], 0
    for number in numbers(text):
        out.append(text[at : number.start])
        as_digits = _ordinal_digits(number) if number.ordinal else _digits(text, number)
        out.append(as_digits or text[number.start : number.end])
        at = number.end
    return re.sub(r"\b(\d+) point (\w+)\b", _decimal, "".join([*out, text[at:]]))


def _digits(text: str, number: Number) -> str:
    named = _named(text, number) or _alone(text, number)
    return str(number.value) if named or number.value >= DIGITS_FROM else ""


def _ordinal_digits(number: Number) -> str:
    if number.value < DIGITS_FROM:
        return ""
    teen = 10 < number.value % 100 < 14
    return f"{number.value}{'th' if teen else ENDINGS.get(number.value % 10, 'th')}"


def _named(text: str, number: Number) -> bool:
    """Whether the word right before it announces a name: "hive two"."""
    before = text[: number.start].split(" ")
    return len(before) > 1 and not before[-1] and before[-2].lower() in CUES


def _alone(text: str, number: Number) -> bool:
    """Whether the number stands by itself between stops, as a hive that is called: "Four, ..."."""
    begins = re.search(r"(^|[.!?;,:]\s+)$", text[: number.start])
    return bool(begins and re.match(r"[.,:!?]", text[number.end :]))


def _decimal(match: re.Match[str]) -> str:
    digit = CARDINALS.get(match[2], DIGITS_FROM)
    return f"{match[1]}.{digit}" if digit < 10 else match[0]


def varied(text: str, rng: random.Random, share: float) -> str:
    """The text with so many of its numbers replaced by others of about their size."""
    out, at = [], 0
    for number in numbers(text):
        out.append(text[at : number.start])
        said = text[number.start : number.end]
        if rng.random() < share and _may_vary(text, number):
            new = say(_another(number.value, rng), rng)
            said = new.capitalize() if said[:1].isupper() else new
        out.append(said)
        at = number.end
    return "".join([*out, text[at:]])


def _may_vary(text: str, number: Number) -> bool:
    if number.ordinal or number.value >= 100 or FIXED.match(text[number.end :]):
        return False
    return number.value != 1 or bool(_digits(text, number))  # "one" is mostly no number


def _another(value: int, rng: random.Random) -> int:
    if value < 13:
        return rng.randrange(2, 13)
    kinds = (range(13, 20), range(20, 100, 10), range(21, 100))
    return rng.choice(rng.choice(kinds))
