"""Named days: "Halloween", "Good Friday", "Thanksgiving week"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cache
from typing import Any

from fieldvoice.extraction.dates.calendar import (
    FULL_WEEKDAYS,
    add_days,
    choose,
    month_of,
    nth_weekday,
    week_of,
)
from fieldvoice.extraction.dates.placing import Around, Found, direction_of, placed, year_after
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.trade.load import trade_file


@cache
def feast_starts() -> frozenset[str]:
    """The first words of all named days."""
    table = trade_file("dates")
    return frozenset(name.split()[0] for name in (*table["named_days"], *table["moving_days"]))


def read_feast(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """The named day that starts at a token, or its week if that is said, or None."""
    table = trade_file("dates")
    for size in (4, 3, 2, 1):
        name = " ".join(t.low for t in tokens[at : at + size])
        if at + size > len(tokens):
            continue
        if name in table["named_days"]:
            month, day = table["named_days"][name]
            end, year = year_after(tokens, at + size)
            return _week(tokens, placed(tokens, (at, end), (day, month, year), around))
        if name in table["moving_days"]:
            span = (at, at + size)
            base = around.recorded_on.year
            days = [moving_day(table["moving_days"][name], base + k) for k in (-1, 0, 1)]
            near = [(d, d) for d in days if d is not None]
            chosen = choose(near, around.recorded_on, direction_of(tokens, span))
            return _week(tokens, Found(*span, chosen, "day"))
    return None


def moving_day(rule: Mapping[str, Any], year: int) -> date | None:
    """The day of a year by its rule in dates.toml; None where the calendar has no such year."""
    from dateutil.easter import easter

    if not 1583 <= year <= 4099:  # the years that dateutil's Western Easter covers
        return None
    if "easter" in rule:
        return add_days(easter(year), rule["easter"])
    month = month_of(year, rule["month"])
    return nth_weekday(month, FULL_WEEKDAYS[rule["weekday"]], rule["nth"])


def _week(tokens: Sequence[Token], found: Found | None) -> Found | None:
    if found is None or found.days is None or low_at(tokens, found.end) != "week":
        return found
    return Found(found.first, found.end + 1, week_of(found.days[0]), "week")
