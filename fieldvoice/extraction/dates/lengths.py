"""Dates told by a length of time: "in two weeks", "ten days ago", "a week from Thursday"."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fieldvoice.extraction.dates.absolute import read_absolute
from fieldvoice.extraction.dates.calendar import FULL_WEEKDAYS, add_days, weekday_from
from fieldvoice.extraction.dates.near import read_fixed
from fieldvoice.extraction.dates.placing import Around, Found, past_units
from fieldvoice.extraction.dates.tense import tense_at
from fieldvoice.extraction.quantities.amounts import Amount, read_amount
from fieldvoice.extraction.quantities.ranges import read_range
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.vocabulary import vocabulary

PERIODS = ("week", "weekend", "month", "year", "fortnight")
_TIME_DAYS = {"day": 1, "week": 7, "fortnight": 14}


def _length(tokens: Sequence[Token], at: int) -> tuple[int, float, float, str] | None:
    """A length of time: (end, least, most, unit). "Two weeks", "six to eight weeks", "a month"."""
    words = vocabulary()
    amount = read_amount(tokens, at, words)
    if amount is None or amount.kind == "ordinal":
        amount = _article_unit(tokens, at)
    if amount is None:
        return None
    spread = read_range(tokens, amount, words)
    unit = spread.unit if spread else amount.unit
    if unit not in ("day", "week", "fortnight", "month", "year"):
        return None
    if spread:
        return spread.end, spread.lo, spread.hi, unit
    return amount.end, amount.value, amount.value, unit


def _article_unit(tokens: Sequence[Token], at: int) -> Amount | None:
    """ "A week" where the number grammar sees no length, and "week from Thursday"."""
    i = at + (low_at(tokens, at) in ("a", "another", "one"))
    word = low_at(tokens, i)
    if word in ("day", "week", "fortnight", "month", "year") and i <= at + 1:
        return Amount(at, i + 1, 1.0, word, "article")
    return None


def _shift(base: date, number: float, unit: str) -> date | None:
    """A day so many units on (negative: back); months and years by dateparser."""
    if unit in _TIME_DAYS:
        return add_days(base, number * _TIME_DAYS[unit])
    if not number.is_integer():
        return add_days(base, number * (30 if unit == "month" else 365))
    return past_units(-int(number), unit, base)


def read_counted(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "In two weeks", "ten days ago", "a week from Thursday", "a week after that"."""
    if low_at(tokens, at) in ("every", "each", "per"):
        return None
    opener = low_at(tokens, at) if low_at(tokens, at) in ("in", "within") else ""
    vague = bool(opener) and low_at(tokens, at + 1) in ("about", "around", "roughly", "maybe")
    length = _length(tokens, at + bool(opener) + vague)
    if length is None:
        return None
    end, least, most, unit = length
    if opener:
        return _from_now(tokens, (at, end), (least, most, unit), around)
    if low_at(tokens, at - 1) in ("every", "each", "per") or low_at(tokens, at - 2) == "every":
        return None
    word, after = low_at(tokens, end), low_at(tokens, end + 1)
    if word == "ago" or (
        word == "back" and tokens[at].low != "the" and after not in ("in", "on", "to")
    ):
        return _ago(tokens, (at, end + 1), (least, most, unit), around)
    if (word, after) in (("or", "so"), ("or", "two")) and low_at(tokens, end + 2) == "ago":
        return _ago(tokens, (at, end + 3), (least, most, unit), around)
    if word in ("today", "tomorrow", "yesterday"):
        step = {"today": 0, "tomorrow": 1, "yesterday": -1}[word]
        base = add_days(around.recorded_on, step)
        return _spread(tokens, (at, end + 1), base, (least, most, unit), 1)
    if word == "from" and after in ("now", "today", "then"):
        return _spread(tokens, (at, end + 2), around.recorded_on, (least, most, unit), 1)
    if word in ("from", "after", "before", "on") or word in FULL_WEEKDAYS:
        return _from_anchor(tokens, (at, end), (least, most, unit), around)
    if word in ("later", "earlier") and around.before:
        return _from_last(
            tokens, (at, end + 1), (least, most, unit), around, 1 if word == "later" else -1
        )
    return None


def _spread(
    tokens: Sequence[Token],
    span: tuple[int, int],
    base: date,
    length: tuple[float, float, str],
    sign: int,
) -> Found | None:
    least, most, unit = length
    days = sorted(d for d in (_shift(base, sign * n, unit) for n in (least, most)) if d)
    if len(days) < 2:
        return None
    return Found(*span, (days[0], days[1]), "day" if least == most else "window")


def _from_now(
    tokens: Sequence[Token],
    span: tuple[int, int],
    length: tuple[float, float, str],
    around: Around,
) -> Found | None:
    at, end = span
    if low_at(tokens, end) == "'" or low_at(tokens, end) == "'s":
        end += 1
    if low_at(tokens, end) == "time":
        end += 1
    if low_at(tokens, end) == "of":
        return None
    # "They emptied it in two days" tells how long it took.
    if tense_at(tokens, at, end) == "past" and not _plans_behind(tokens, end):
        return None
    if low_at(tokens, at) == "within":
        last = _shift(around.recorded_on, length[1], length[2])
        return Found(at, end, (around.recorded_on, last), "window") if last else None
    return _spread(tokens, (at, end), around.recorded_on, length, 1)


def _plans_behind(tokens: Sequence[Token], end: int) -> bool:
    return tense_at(tokens, end, end) == "future" and low_at(tokens, end) in ("i", "we", ",", "if")


def _ago(
    tokens: Sequence[Token],
    span: tuple[int, int],
    length: tuple[float, float, str],
    around: Around,
) -> Found | None:
    """ "Three weeks ago", "a week ago Tuesday"; years ago is the whole year."""
    at, end = span
    base = around.recorded_on
    least, most, unit = length
    if unit == "year" and float(most).is_integer():
        first, last = base.year - int(most), base.year - int(least)
        if first < 1 or last < 1:
            return None
        return Found(at, end, (date(first, 1, 1), date(last, 12, 31)), "year")
    i = end + (low_at(tokens, end) in ("on", "last", "this"))
    weekday = FULL_WEEKDAYS.get(low_at(tokens, i))
    if weekday is not None and unit in ("week", "fortnight"):
        about = add_days(base, -most * _TIME_DAYS[unit])
        offset = (weekday - about.weekday() + 3) % 7 - 3
        day = add_days(about, offset)
        return Found(at, i + 1, (day, day), "day")
    return _spread(tokens, (at, end), base, length, -1)


def _from_anchor(
    tokens: Sequence[Token],
    span: tuple[int, int],
    length: tuple[float, float, str],
    around: Around,
) -> Found | None:
    """ "A week from Thursday", "two weeks after April second", "a week after that"."""
    at, end = span
    word = low_at(tokens, end)
    i = end + (word in ("from", "after", "before", "on"))
    sign = -1 if word == "before" else 1
    if low_at(tokens, i) in ("that", "then") and word in ("after", "before", "from"):
        return _from_last(tokens, (at, i + 1), length, around, sign)
    weekday = FULL_WEEKDAYS.get(low_at(tokens, i))
    if weekday is not None and length[2] in ("week", "fortnight") and word != "before":
        day = weekday_from(around.recorded_on, weekday, "future")
        return _spread(tokens, (at, i + 1), day, length, 1)
    if word in ("from", "after", "before"):
        anchor = read_fixed(tokens, i, around) or read_absolute(tokens, i, around)
        if anchor is not None and anchor.kind in ("day", "today"):
            base = anchor.days[0] if anchor.days else around.recorded_on
            return _spread(tokens, (at, anchor.end), base, length, sign)
    return None


def _from_last(
    tokens: Sequence[Token],
    span: tuple[int, int],
    length: tuple[float, float, str],
    around: Around,
    sign: int,
) -> Found | None:
    earlier = [f for f in around.before if f.kind in ("day", "today")]
    if not earlier:
        return None
    days = earlier[-1].days
    return _spread(tokens, span, days[0] if days else around.recorded_on, length, sign)


def read_stretch(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "The last two weeks", "over the next ten days"."""
    i = at + (low_at(tokens, at) == "the")
    word = low_at(tokens, i)
    if word not in ("last", "past", "next", "coming"):
        return None
    length = _length(tokens, i + 1) if low_at(tokens, i + 1) not in PERIODS else None
    if length is None or length[3] == "year":
        return None
    base = around.recorded_on
    sign = 1 if word in ("next", "coming") else -1
    other = _shift(base, sign * length[2], length[3])
    if other is None:
        return None
    return Found(at, length[0], (min(base, other), max(base, other)), "window")
