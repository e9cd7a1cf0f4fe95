"""Months and parts of them: "in November", "late August", "the first week of May"."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fieldvoice.extraction.dates.calendar import (
    FULL_MONTHS,
    FULL_WEEKDAYS,
    Days,
    add_days,
    choose,
    month_of,
    nth_weekday,
    week_of,
)
from fieldvoice.extraction.dates.days import read_day_of_month, read_month_day
from fieldvoice.extraction.dates.placing import (
    Around,
    Found,
    day_number,
    direction_of,
    month_at,
    year_after,
)
from fieldvoice.extraction.quantities.clock import read_year
from fieldvoice.extraction.quantities.tokens import Token, low_at, starts_phrase

_MONTH_CUES = (
    "in", "since", "till", "until", "by", "before", "after", "during", "from", "through", "late",
    "early", "mid", "be", "this", "come", "so", "to",
)  # fmt: skip
# these are nothing but months, with or without a word before them
_PLAIN_MONTHS = FULL_MONTHS - {"may", "march", "april", "june", "august"}
_PARTS = {"early": (1, 10), "mid": (10, 20), "middle": (10, 20), "late": (21, 31)}


_NTH = {
    "first": 1,
    "second": 2,
    "third": 3,
    "fourth": 4,
    "fifth": 5,
    "last": -1,
    "1st": 1,
    "2nd": 2,
    "3rd": 3,
    "4th": 4,
}


def _month_days(
    tokens: Sequence[Token], at: int, around: Around, first: int
) -> tuple[int, Days] | None:
    """A month, as name or as "the month", with its days: (end, days)."""
    base = around.recorded_on
    for phrase, step in (
        (("the", "month"), 0),
        (("this", "month"), 0),
        (("next", "month"), 1),
        (("last", "month"), -1),
    ):
        if starts_phrase(tokens, at, phrase):
            return at + 2, month_of(base.year, base.month + step)
    step = {"last": -1, "next": 1, "this": 0}.get(low_at(tokens, at), 5)
    at += step != 5
    month = month_at(tokens, at)
    if month is None:
        return None
    end, year = year_after(tokens, at + 1)
    if year in (1, -1):
        year = base.year + year
    if year is not None:
        return end, month_of(year, month)
    candidates = [month_of(base.year + k, month) for k in (-1, 0, 1)]
    if step == -1:
        return end, max((d for d in candidates if d[1] < base), default=candidates[0])
    if step == 1:
        return end, min((d for d in candidates if d[0] > base), default=candidates[-1])
    return end, choose(candidates, base, direction_of(tokens, (first, end)))


def read_nth_of(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "The second Saturday in December", "the first week of May", "last weekend of June"."""
    i = at + (low_at(tokens, at) == "the")
    nth = _NTH.get(low_at(tokens, i))
    name = low_at(tokens, i + 1)
    if nth is None or low_at(tokens, i + 2) not in ("of", "in"):
        return None
    if name not in ("week", "weekend") and name not in FULL_WEEKDAYS:
        return None
    month = _month_days(tokens, i + 3, around, at)
    if month is None:
        return None
    end, days = month
    if name == "week":
        start = add_days(days[1], -6) if nth == -1 else add_days(days[0], 7 * (nth - 1))
        return Found(at, end, (start, min(add_days(start, 6), days[1])), "week")
    day = nth_weekday(days, FULL_WEEKDAYS.get(name, 5), nth)
    if day is None:
        return None
    if name == "weekend":
        return Found(at, end, (day, add_days(day, 1)), "weekend")
    return Found(at, end, (day, day), "day")


def read_part_of_month(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Mid June", "late August", "the end of the month", "the week of May 4th"."""
    i = at + (low_at(tokens, at) == "the")
    word = low_at(tokens, i)
    if word in ("early", "mid", "late", "middle"):
        after = i + 1 + (low_at(tokens, i + 1) in ("-", "of", "in"))
        month = _month_days(tokens, after, around, at)
        if month is None:
            return None
        first, last = _PARTS[word]
        return _cut(at, month, first, min(last, month[1][1].day))
    if word in ("first", "second", "latter") and starts_phrase(tokens, i + 1, ("half", "of")):
        month = _month_days(tokens, i + 3, around, at)
        if month is None:
            return None
        return _cut(at, month, *((1, 15) if word == "first" else (16, month[1][1].day)))
    if word in ("end", "start", "beginning") and low_at(tokens, i + 1) == "of":
        month = _month_days(tokens, i + 2, around, at)
        if month is None:
            return None
        final = month[1][1].day
        return _cut(at, month, *((final - 6, final) if word == "end" else (1, 7)))
    if word == "week" and low_at(tokens, i + 1) == "of":
        found = read_month_day(tokens, i + 2, around) or read_day_of_month(tokens, i + 2, around)
        if found is not None and found.days is not None:
            return Found(at, found.end, week_of(found.days[0]), "week")
    return None


def _cut(at: int, month: tuple[int, Days], first: int, last: int) -> Found:
    end, (start, _) = month
    return Found(at, end, (start.replace(day=first), start.replace(day=last)), "window")


def read_month(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "In November", "last July", "till December": a month is its first to its last day."""
    word = low_at(tokens, at)
    i = at
    if word in ("last", "next", "this"):
        i = at + 1
    elif low_at(tokens, at - 1) not in _MONTH_CUES and word not in _PLAIN_MONTHS:
        return None
    if month_at(tokens, i) is None or low_at(tokens, i + 1) == "'s":
        return None
    if day_number(tokens, i + 1, cardinal=False):
        return None  # a day that this month does not have
    month = _month_days(tokens, at, around, at)
    return Found(at, month[0], month[1], "month") if month else None


def read_season_or_year(tokens: Sequence[Token], at: int) -> Found | None:
    """ "The fall of 2024", "in 2023", "twenty twenty three".

    Only "fall" is placed: it is said where it comes in September. The other seasons depend
    on the hemisphere and give no date.
    """
    i = at + (low_at(tokens, at) == "the")
    if low_at(tokens, i) == "fall":
        after = i + 1 + (low_at(tokens, i + 1) == "of")
        year = read_year(tokens, after) if after < len(tokens) else None
        if year is not None:
            y = int(year[1])
            return Found(at, year[0], (date(y, 9, 1), date(y, 11, 30)), "window")
        return None
    year = read_year(tokens, at)
    if year is None:
        return None
    return Found(at, year[0], (date(int(year[1]), 1, 1), date(int(year[1]), 12, 31)), "year")
