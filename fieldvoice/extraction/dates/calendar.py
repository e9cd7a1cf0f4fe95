"""Days, weeks and months around a recording's date; a week is Monday to Sunday."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta

from fieldvoice.extraction.dates.model import Direction

WEEKDAYS = {
    day: n
    for n, names in enumerate(
        (
            ("monday", "mon"),
            ("tuesday", "tue", "tues"),
            ("wednesday", "wed", "weds"),
            ("thursday", "thu", "thurs"),
            ("friday", "fri"),
            ("saturday", "sat"),
            ("sunday", "sun"),
        )
    )
    for day in names
}
_SHORT_DAYS = frozenset(("sun", "sat", "mon", "wed", "fri", "thu", "tue"))
FULL_WEEKDAYS = {day: n for day, n in WEEKDAYS.items() if day not in _SHORT_DAYS}
MONTHS = {
    name: n
    for n, names in enumerate(
        (
            ("january", "jan"),
            ("february", "feb"),
            ("march", "mar"),
            ("april", "apr"),
            ("may",),
            ("june", "jun"),
            ("july", "jul"),
            ("august", "aug"),
            ("september", "sept", "sep"),
            ("october", "oct"),
            ("november", "nov"),
            ("december", "dec"),
        ),
        1,
    )
    for name in names
}
FULL_MONTHS = frozenset(name for name in MONTHS if len(name) > 4 or name in ("may", "june", "july"))
Days = tuple[date, date]  # first and last day, both inclusive


def add_days(day: date, number: float) -> date:
    """The day so many days on, held inside the calendar."""
    try:
        return day + timedelta(days=round(number))
    except OverflowError:
        return date.max if number > 0 else date.min


def week_of(day: date, weeks: int = 0) -> Days:
    """Monday to Sunday of the week of a day, or of one some weeks on."""
    monday = add_days(day, 7 * weeks - day.weekday())
    return monday, add_days(monday, 6)


def month_of(year: int, month: int) -> Days:
    """First to last day of a month; months below 1 and above 12 run into other years."""
    year, month = year + (month - 1) // 12, (month - 1) % 12 + 1
    year = min(max(year, 1), 9999)
    return date(year, month, 1), date(year, month, monthrange(year, month)[1])


def weekday_from(day: date, weekday: int, direction: Direction) -> date:
    """The nearest such weekday before or after a day; the same weekday is seven days off."""
    if direction == "future":
        return add_days(day, (weekday - day.weekday() - 1) % 7 + 1)
    return add_days(day, -((day.weekday() - weekday - 1) % 7 + 1))


def nth_weekday(month: Days, weekday: int, nth: int) -> date | None:
    """The second Saturday of a month; `nth` -1 is the last. None where there is no fifth."""
    first, last = month
    if nth == -1:
        return add_days(last, -((last.weekday() - weekday) % 7))
    day = add_days(first, (weekday - first.weekday()) % 7 + 7 * (nth - 1))
    return day if day <= last else None


def choose(candidates: list[Days], recorded_on: date, direction: Direction | None) -> Days:
    """The candidate that lies in the right direction, nearest to the recording's date."""

    def far(days: Days) -> int:
        if days[0] <= recorded_on <= days[1]:
            return 0
        return min(abs((days[0] - recorded_on).days), abs((days[1] - recorded_on).days))

    fitting = [
        d
        for d in candidates
        if direction is None
        or (direction == "past" and d[0] <= recorded_on)
        or (direction == "future" and d[1] >= recorded_on)
    ]
    return min(fitting or candidates, key=far)
