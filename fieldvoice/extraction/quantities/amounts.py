"""A number with its unit: "half a gallon", "a pint and a quarter", "1 lb 9 oz", "quart jar"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fieldvoice.extraction.quantities.cardinals import Number
from fieldvoice.extraction.quantities.marks import is_label
from fieldvoice.extraction.quantities.numbers import read_fraction, read_number
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.unit_names import BETWEEN, read_unit, unit_after
from fieldvoice.extraction.quantities.vocabulary import Vocabulary
from fieldvoice.number_words import CARDINALS, ONES, TENS

_ARTICLES = ("a", "an", "another")
_TIME_BEFORE = (
    "for", "in", "after", "within", "about", "another", "over", "every", "took", "lasted",
    "than", "least", "half", "whole",
)  # fmt: skip
_NOT_ALONE = ("second", "degree", "ton", "percent", "foot", "metre", "knot", "watt", "volt")
_AFTER_PART = ("to", "on", "for", "in", "at", "with", "of", "tall", "wide", "long", "high", "deep")
_TIMES = "time"
_NOT_A_CUP = ("with", "and", "down", "here", "there")


@dataclass(frozen=True, slots=True)
class Amount:
    """A number over tokens, with its unit if one was said."""

    first: int
    end: int
    value: float
    unit: str | None
    kind: str
    approx: bool = False
    container: bool = False
    respelled: bool = False


def read_amount(tokens: Sequence[Token], at: int, words: Vocabulary) -> Amount | None:
    """The number that starts at a token, with its unit, or None."""
    number = read_number(tokens, at)
    if number is not None and number.kind == "ordinal":
        return Amount(number.first, number.end, number.value, None, "ordinal")
    if number is None:
        return _unit_alone(tokens, at, words)
    respelled = False
    if (longer := _misheard_tail(tokens, number, words)) is not None:
        number, respelled = longer, True
    number = _hundreds_unsaid(tokens, number, words)
    number = _point_unsaid(tokens, number, words)
    hit = unit_after(tokens, number, words)
    if hit is None:
        return Amount(
            number.first, number.end, number.value, None, number.kind, number.approx,
            respelled=respelled,
        )  # fmt: skip
    end, unit = hit
    amount = Amount(
        number.first, end, number.value, unit, number.kind, number.approx, respelled=respelled
    )
    return _with_container(tokens, _with_parts(tokens, amount, words), words)


def _misheard_tail(tokens: Sequence[Token], number: Number, words: Vocabulary) -> Number | None:
    """ "Eighty ate degrees": a word that sounds like the ones digit, with a unit behind it."""
    if number.kind != "cardinal" or low_at(tokens, number.end - 1) not in TENS:
        return None
    digit = words.sounds_like.get(low_at(tokens, number.end))
    if digit is None or read_unit(tokens, number.end + 1, words, digits=False) is None:
        return None
    return replace(number, end=number.end + 1, value=number.value + digit)


def _hundreds_unsaid(tokens: Sequence[Token], number: Number, words: Vocabulary) -> Number:
    """ "One forty seven pounds" is 147, where a unit or the end of the clause follows."""
    first = low_at(tokens, number.first)
    if number.kind != "cardinal" or number.end != number.first + 1 or not 1 <= number.value <= 9:
        return number
    rest = read_number(tokens, number.end)
    if rest is None or rest.kind != "cardinal" or not 10 <= rest.value <= 99 or first == "a":
        return number
    joined = Number(number.first, rest.end, number.value * 100 + rest.value, "cardinal")
    after = low_at(tokens, rest.end)
    ends = not after or (tokens[rest.end].kind == "mark" and after != "-")
    return joined if ends or unit_after(tokens, joined, words) else number


def _point_unsaid(tokens: Sequence[Token], number: Number, words: Vocabulary) -> Number:
    """ "Moisture seventeen two" is 17.2, where the talk is of a meter that shows tenths."""
    tenths = ONES.get(low_at(tokens, number.end))
    if number.kind != "cardinal" or not 10 <= number.value <= 25 or not tenths:
        return number
    if low_at(tokens, number.end - 1) in ONES:  # "twenty one two" is no reading
        return number
    beside = tokens[max(number.first - 8, 0) : number.end + 5]
    if not any(t.low in words.sets["shows_tenths"] for t in beside):
        return number
    return Number(number.first, number.end + 1, number.value + tenths / 10, "decimal")


def _with_parts(tokens: Sequence[Token], amount: Amount, words: Vocabulary) -> Amount:
    """Take in "and a half", "nine ounces", "twenty" behind a unit, and "old" behind a time."""
    unit = words.units[amount.unit or ""]
    i = amount.end
    joiner = low_at(tokens, i) == "and"
    whole = amount.value.is_integer()
    if joiner and whole and (tail := read_fraction(tokens, i + 1)):
        apart = read_unit(tokens, tail[0], words, digits=False)  # "a cup and half a pound"
        if apart is None or unit.dimension == _TIMES:
            return _aged(tokens, replace(amount, end=tail[0], value=amount.value + tail[1]), words)
    if unit.parts and whole and (part := read_number(tokens, i + joiner)):
        hit = unit_after(tokens, part, words) if part.kind != "ordinal" else None
        if "inch" in unit.parts and low_at(tokens, part.end) == "in":
            hit = part.end + 1, "inch"
        if hit and hit[1] in unit.parts:
            value = amount.value + part.value / unit.parts[hit[1]]
            return replace(amount, end=hit[0], value=value)
        if hit is None and not joiner and _bare_part(tokens, amount, part):
            scale = next(iter(unit.parts.values()))
            return replace(amount, end=part.end, value=amount.value + part.value / scale)
    return _aged(tokens, amount, words)


def _bare_part(tokens: Sequence[Token], amount: Amount, part: Number) -> bool:
    """ "An hour twenty", "five foot two": the smaller unit goes unsaid at the clause's end."""
    after = low_at(tokens, part.end)
    ends = not after or tokens[part.end].kind == "mark" or after in _AFTER_PART
    if part.kind not in ("cardinal", "digits") or not ends or after == ":":
        return False
    if amount.unit == "hour":
        return 5 <= part.value < 60 and tokens[amount.end - 1].low in ("hour", "hours")
    return amount.unit == "foot" and tokens[amount.end - 1].low == "foot" and part.value < 12


def _aged(tokens: Sequence[Token], amount: Amount, words: Vocabulary) -> Amount:
    if words.units[amount.unit or ""].dimension != _TIMES:
        return amount
    i = amount.end
    if low_at(tokens, i) == "-" and low_at(tokens, i + 1) == "old":
        return replace(amount, end=i + 2)
    if low_at(tokens, i) == "old":
        return replace(amount, end=i + 1)
    if low_at(tokens, i) == "of" and low_at(tokens, i + 1) == "age":
        return replace(amount, end=i + 2)
    return amount


def _with_container(tokens: Sequence[Token], amount: Amount, words: Vocabulary) -> Amount:
    """Mark "five-gallon bucket" as the size of a thing."""
    if words.units[amount.unit or ""].dimension not in ("volume", "mass"):
        return amount
    i = amount.end
    if low_at(tokens, i) == "-":
        i += 1
    for at in (i, i + 1):
        if low_at(tokens, at) in words.sets["containers"] and (
            at == i
            or (
                tokens[i].kind == "word"
                and low_at(tokens, i) not in ("of", "in", "per", "a", "and", "to")
            )
        ):
            return replace(amount, end=at + 1, container=True)
    return amount


def _unit_alone(tokens: Sequence[Token], at: int, words: Vocabulary) -> Amount | None:
    """ "A full gallon", "another quart", "quart jar": one, where no number is said."""
    article = low_at(tokens, at) in _ARTICLES
    i = at + 1 if article else at
    while article and low_at(tokens, i) in BETWEEN:
        i += 1
    hit = read_unit(tokens, i, words, digits=False)
    if hit is None:
        return _thing_and_part(tokens, at, i, words) if article else None
    end, name = hit
    unit = words.units[name]
    sized = _with_container(tokens, Amount(at, end, 1.0, name, "article"), words)
    if not article and low_at(tokens, end) == "and" and tokens[end - 1].low == name:
        longer = _with_parts(tokens, replace(sized, end=end, container=False), words)
        return _with_container(tokens, longer, words) if longer.value != 1 else None
    if not article:
        single = tokens[end - 1].low == name and unit.dimension in ("volume", "mass")
        here = sized.container and sized.end == end + 1
        return sized if single and here and name not in ("pound", "cup") else None
    if name in _NOT_ALONE or not tokens[end - 1].low.rstrip("s") or _is_rate(tokens, at, words):
        return None
    if unit.dimension == _TIMES and not _time_stands(tokens, at, end):
        return None
    halved = low_at(tokens, end) == "and" and read_fraction(tokens, end + 1) is not None
    if name == "cup" and low_at(tokens, end) in _NOT_A_CUP and not halved:
        return None
    return _with_container(
        tokens, _with_parts(tokens, replace(sized, end=end, container=False), words), words
    )


def _thing_and_part(tokens: Sequence[Token], at: int, i: int, words: Vocabulary) -> Amount | None:
    """ "A frame and a half": a thing that is counted, and part of another."""
    name = low_at(tokens, i)
    if name + "s" not in words.sets["counted"] or low_at(tokens, i + 1) != "and":
        return None
    tail = read_fraction(tokens, i + 2)
    return Amount(at, tail[0], 1 + tail[1], name, "article") if tail else None


def _is_rate(tokens: Sequence[Token], at: int, words: Vocabulary) -> bool:
    """ "Two grams a litre", "ten a pound": what comes before is per this unit."""
    before = low_at(tokens, at - 1)
    if at and is_label(tokens, at - 1, at, words):
        return False  # "gave hive two a quart"
    counted = before in CARDINALS and before != "one"
    if counted or (at and tokens[at - 1].kind == "digits"):
        return True
    return any(said[-1] == before and not short for said, _, short in words.names.get(before, ()))


def _time_stands(tokens: Sequence[Token], at: int, end: int) -> bool:
    """Whether "an hour" is a length of time, and not "once a day" or "wait a minute"."""
    if low_at(tokens, at - 1) in _TIME_BEFORE or low_at(tokens, at) == "another":
        return True
    if low_at(tokens, end) == "and":
        return read_fraction(tokens, end + 1) is not None or low_at(tokens, end + 1) in CARDINALS
    return low_at(tokens, end - 1) in ("hour", "week", "month") and low_at(tokens, end) in CARDINALS
