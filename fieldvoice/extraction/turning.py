"""A day on the right side of today: what is planned lies ahead, what is past behind.

The words around a date do not always tell ("it goes Monday"); what the fact is does.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldvoice.extraction.candidates import Day

WEEK = timedelta(days=7)


def turned(day: Day | None, status: str, today: date) -> Day | None:
    """The day moved by a week or a year if its fact cannot be on that side of today."""
    if day is None or day.from_ is None or day.to is None:
        return day
    if status in ("planned", "skipped") and day.to < today:
        return _moved(day, today, 1) if status == "planned" or _far(day, today) else day
    if status == "past" and day.from_ > today:
        return _moved(day, today, -1)
    return day


def _far(day: Day, today: date) -> bool:
    return day.to is not None and abs(day.to - today) > timedelta(days=300)


def _moved(day: Day, today: date, way: int) -> Day:
    """A weekday by a week, a day of the year by a year; what lies between stays as it is."""
    if day.from_ is None or day.to is None:
        return day
    near = day.to if way > 0 else day.from_
    if abs(near - today) < WEEK:
        return replace(day, from_=day.from_ + way * WEEK, to=day.to + way * WEEK)
    if _far(day, today) or way < 0:
        return replace(day, from_=_year(day.from_, way), to=_year(day.to, way))
    return day


def _year(day: date, way: int) -> date:
    try:
        return day.replace(year=day.year + way)
    except ValueError:  # the 29th of February
        return day.replace(year=day.year + way, day=28)
