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
    from starlette.routing import Route

    from fieldvoice.review.page.bench import Bench


def bench_of(logbook: Logbook, path: Path) -> Bench:
    """What the page works with."""
    from fieldvoice.answers.doing import doing_routes
    from fieldvoice.answers.pages import ask_routes
    from fieldvoice.hearing.cutting import samples
    from fieldvoice.hearing.decode import decode
    from fieldvoice.review.page.bench import Bench

    beside = (
        *doing_routes(path, now),
        *ask_routes(path, lambda: now().date()),
        *_hand_in(path),
    )
    return Bench(logbook, path, samples, decode, days_of_words, numbers_of_words, now, beside)


def _hand_in(path: Path) -> list[Route]:
    """What a phone hands in lies beside the logbook and goes the way of `add`."""
    from fieldvoice.cli.listen import RECORDINGS
    from fieldvoice.pipeline import AddOptions, add_recordings
    from fieldvoice.review.page.app import page_of
    from fieldvoice.review.page.handing_in import MOST, HandingIn, hand_in_routes
    from fieldvoice.settings import load_settings

    def take(file: Path) -> str:
        (added,) = add_recordings(path, [file], AddOptions(settings=load_settings(path)))
        if added.outcome == "failed":
            return added.problem
        return f"{added.drafts} {'draft waits' if added.drafts == 1 else 'drafts wait'} for review."

    handing = HandingIn(path.parent / RECORDINGS, take)
    return hand_in_routes(handing, lambda: page_of("hand_in.html", most=f"{MOST / 1e9:.0f} GB"))


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
