"""A day on the right side of today: what is planned lies ahead, what has been done behind.

The words around a date do not always tell ("it goes Monday"); what the fact is does.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fieldvoice.extraction.dates.calendar import month_of

if TYPE_CHECKING:
    from fieldvoice.extraction.candidates import Day

WEEK = timedelta(days=7)
YEAR = timedelta(days=300)  # further off than this, another year was meant
BEHIND = ("past", "done", "seen", "absent")


def turned(day: Day | None, status: str, today: date) -> Day | None:
    """The day moved to where it comes round again, if its fact cannot be on that side of today."""
    if day is None or day.from_ is None or day.to is None:
        return day
    if status == "planned" and day.to < today:
        return _moved(day, today, 1)
    if status == "skipped" and today - day.to > YEAR:
        return _moved(day, today, 1)
    if status in BEHIND and day.from_ > today:
        return _moved(day, today, -1)
    return day


def _moved(day: Day, today: date, way: int) -> Day:
    """A weekday by weeks, a day of the month by months, a day of the year by a year."""
    if day.from_ is None or day.to is None:
        return day
    if day.again == "month":
        months = (month_of(today.year, today.month + way * k) for k in range(3))
        days = [first.replace(day=day.to.day) for first, last in months if day.to.day <= last.day]
        fitting = [d for d in days if (d - today) * way >= timedelta()]
        return replace(day, from_=fitting[0], to=fitting[0]) if fitting else day
    near = day.to if way > 0 else day.from_
    if day.again == "week" or abs(near - today) < WEEK:
        return replace(day, from_=day.from_ + way * WEEK, to=day.to + way * WEEK)
    if way < 0 or today - day.to > YEAR:
        return replace(day, from_=_year(day.from_, way), to=_year(day.to, way))
    return day


def _year(day: date, way: int) -> date:
    try:
        return day.replace(year=day.year + way)
    except ValueError:  # the 29th of February
        return day.replace(year=day.year + way, day=28)
