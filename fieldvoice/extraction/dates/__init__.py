"""Dates as spoken: find_dates() gives each one with the days it stands for."""

from fieldvoice.extraction.dates.find import find_dates
from fieldvoice.extraction.dates.model import Again, DateSpan

__all__ = ["Again", "DateSpan", "find_dates"]
