"""Dates told from the recording's day: "tomorrow", "next week", "in ten days", "a week ago"."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fieldvoice.extraction.dates.calendar import (
    FULL_WEEKDAYS,
    WEEKDAYS,
    Days,
    add_days,
    month_of,
    week_of,
    weekday_from,
)
from fieldvoice.extraction.dates.lengths import PERIODS, read_counted, read_stretch
from fieldvoice.extraction.dates.model import Direction
from fieldvoice.extraction.dates.near import read_fixed, with_part_of_day
from fieldvoice.extraction.dates.placing import Around, Found
from fieldvoice.extraction.dates.tense import tense_at
from fieldvoice.extraction.quantities.tokens import Token, low_at, starts_phrase

_OPENING = 14  # tokens at a narration's start that tell which day it is


def read_relative(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """The relative date that starts at a token, or None."""
    return (
        read_fixed(tokens, at, around)
        or read_counted(tokens, at, around)
        or read_stretch(tokens, at, around)
        or _period(tokens, at, around)
        or _weekday(tokens, at, around)
    )


def _period(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Next week", "last month", "this weekend", "the week before last", "the weekend"."""
    i = at + (low_at(tokens, at) == "the")
    word, name = low_at(tokens, i), low_at(tokens, i + 1)
    step: int | None = {"last": -1, "next": 1, "this": 0, "coming": 1}.get(word)
    if word == "this" and name in ("coming", "past"):
        i, step, name = i + 1, 1 if name == "coming" else -1, low_at(tokens, i + 2)
    if step is not None and name in PERIODS:
        coming = word in ("this", "coming") and name == "weekend" and step >= 0
        return _calendar(tokens, (at, i + 2), name, None if coming else step, around)
    for phrase, back in (("before", "last"), -2), (("after", "next"), 2):
        if word in PERIODS and starts_phrase(tokens, i + 1, phrase):
            return _calendar(tokens, (at, i + 3), word, back, around)
    if word == "weekend" and i == at + 1 and low_at(tokens, i + 1) not in ("of", "in"):
        past = tense_at(tokens, at, i + 1) == "past"
        return _calendar(tokens, (at, i + 1), word, -1 if past else None, around)
    return None


def _calendar(
    tokens: Sequence[Token],
    span: tuple[int, int],
    name: str,
    step: int | None,
    around: Around,
) -> Found | None:
    base = around.recorded_on
    if name == "year":
        if step == 0 or step is None or not 1 <= base.year + step <= 9999:
            return None  # "this year" tells nothing
        return Found(*span, (date(base.year + step, 1, 1), date(base.year + step, 12, 31)), "year")
    if name == "month":
        return Found(*span, month_of(base.year, base.month + (step or 0)), "month")
    if name == "week":
        return Found(*span, week_of(base, step or 0), "week")
    if name == "fortnight":
        return None
    return Found(*span, _weekend(base, step), "weekend")


def _weekend(base: date, step: int | None) -> Days:
    """Saturday and Sunday; None is the coming weekend, or this one while it lasts."""
    saturday = add_days(base, 5 - base.weekday())
    if step is None or step == 0:
        return saturday, add_days(saturday, 1)
    if step == -1 and base.weekday() >= 5:
        return add_days(saturday, -7), add_days(saturday, -6)
    day = add_days(saturday, 7 * step)
    return day, add_days(day, 1)


def _weekday(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Next Tuesday", "on Friday", "Friday week", a bare "Wednesday" by the tense of its verb."""
    i = at
    if low_at(tokens, at) in ("next", "last", "this", "coming", "past"):
        i = at + 1
    if low_at(tokens, at) == "this" and low_at(tokens, i) in ("coming", "past"):
        i += 1
    weekday = (FULL_WEEKDAYS if i == at else WEEKDAYS).get(low_at(tokens, i))
    if weekday is None:
        return None
    word = low_at(tokens, i - 1) if i > at else ""
    end = with_part_of_day(tokens, i + 1)
    if word == "" and (found := _in_week(tokens, (at, end), weekday, around)):
        return found
    direction: Direction | None = {
        "next": "future", "coming": "future", "last": "past", "past": "past",
    }.get(word)  # type: ignore[assignment]  # fmt: skip
    after = low_at(tokens, end)
    if direction is None and after in ("week", "fortnight") and end == i + 1:
        day = add_days(
            weekday_from(around.recorded_on, weekday, "future"), 7 * (1 + (after == "fortnight"))
        )
        return Found(at, end + 1, (day, day), "day")
    if direction is None:
        return _bare_weekday(tokens, (at, end), weekday, around)
    day = weekday_from(around.recorded_on, weekday, direction)
    if direction == "future" and low_at(tokens, end) == "week":
        return Found(at, end + 1, (add_days(day, 7), add_days(day, 7)), "day")
    return Found(at, end, (day, day), "day")


def _in_week(
    tokens: Sequence[Token], span: tuple[int, int], weekday: int, around: Around
) -> Found | None:
    """ "Wednesday next week"."""
    at, end = span
    step = {"next": 1, "last": -1, "this": 0}.get(low_at(tokens, end))
    if step is None or low_at(tokens, end + 1) != "week":
        return None
    day = add_days(week_of(around.recorded_on, step)[0], weekday)
    return Found(at, end + 2, (day, day), "day")


def _bare_weekday(
    tokens: Sequence[Token], span: tuple[int, int], weekday: int, around: Around
) -> Found:
    at, end = span
    before = low_at(tokens, at - 1)
    base = around.recorded_on
    if weekday == base.weekday() and before not in ("on", "by", "since", "until", "till", "last"):
        names_today = at < _OPENING or before in ("is", "'s", "it", "a")
        if names_today or tense_at(tokens, at, end) is None:
            return Found(at, end, None, "today")
    direction = "past" if before == "since" else tense_at(tokens, at, end)
    if before in ("by", "until", "till") and direction is None:
        direction = "future"
    day = weekday_from(base, weekday, direction or "future")
    return Found(at, end, (day, day), "day", direction is None, "week")
