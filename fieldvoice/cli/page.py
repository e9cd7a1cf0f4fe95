"""The review page with all that it is handed: the logbook, sound, and days in words."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from fieldvoice.cli.opened import now
from fieldvoice.logbook.opening import Logbook
from fieldvoice.types import When

if TYPE_CHECKING:
    from fieldvoice.review.page.bench import Bench


def bench_of(logbook: Logbook, path: Path) -> Bench:
    """What the page works with."""
    from fieldvoice.answers.pages import ask_routes
    from fieldvoice.hearing.cutting import samples
    from fieldvoice.hearing.decode import decode
    from fieldvoice.review.page.bench import Bench

    asking = tuple(ask_routes(path, lambda: now().date()))
    return Bench(logbook, path, samples, decode, days_of_words, numbers_of_words, now, asking)


def numbers_of_words(words: str) -> list[float]:
    """The numbers that words say, in their order.

    >>> numbers_of_words("17.5%, no, twenty one")
    [17.5, 21.0]
    """
    from fieldvoice.extraction.integers import read_integer

    low = re.findall(r"\d+\.\d+|\d+|[a-z]+", words.lower())
    found: list[float] = []
    at = 0
    while at < len(low):
        read = (float(low[at]), 1) if "." in low[at] else read_integer(low, at)
        if read is not None:
            found.append(float(read[0]))
        at += read[1] if read is not None else 1
    return found


def days_of_words(words: str, day: date) -> When | None:
    """The days that words mean, said on `day`: "next Tuesday", "in two weeks"; None if none.

    >>> days_of_words("next Tuesday", date(2026, 5, 9)).to.isoformat()
    '2026-05-12'
    """
    from fieldvoice.extraction.dates import find_dates

    found = find_dates(words, day)
    if not found:
        return None
    first = found[0]
    if first.from_ is None and first.to is None:
        return When(day, day)
    return When(first.from_, first.to)
