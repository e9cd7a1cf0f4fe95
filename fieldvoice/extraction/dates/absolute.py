"""Dates that name a day or month of the calendar, each kind in turn."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.dates.days import (
    read_bare_day,
    read_day_of_month,
    read_month_day,
    read_weekday_and_day,
)
from fieldvoice.extraction.dates.feasts import read_feast
from fieldvoice.extraction.dates.months import (
    read_month,
    read_nth_of,
    read_part_of_month,
    read_season_or_year,
)
from fieldvoice.extraction.dates.numeric import read_numeric
from fieldvoice.extraction.dates.placing import Around, Found
from fieldvoice.extraction.quantities.tokens import Token


def read_absolute(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """The calendar date that starts at a token, or None."""
    if at >= len(tokens):
        return None
    return (
        read_weekday_and_day(tokens, at, around)
        or read_month_day(tokens, at, around)
        or read_day_of_month(tokens, at, around)
        or read_numeric(tokens, at, around)
        or read_nth_of(tokens, at, around)
        or read_part_of_month(tokens, at, around)
        or read_month(tokens, at, around)
        or read_feast(tokens, at, around)
        or read_season_or_year(tokens, at)
        or read_bare_day(tokens, at, around)
    )
