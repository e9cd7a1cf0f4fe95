"""All that rules find in a narration, before anything is decided.

Candidates are generous: a bare "six" is both a possible hive and a possible number.
Which of them belong together, and to which fact, is decided with the context in view.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from fieldvoice.extraction.dates import Again, find_dates
from fieldvoice.extraction.document import Document
from fieldvoice.extraction.labels import Mention
from fieldvoice.extraction.quantities import VALUE_SHAPES, Quantity
from fieldvoice.extraction.things import Thing
from fieldvoice.types import KINDS


@dataclass(frozen=True, slots=True)
class Number:
    """A quantity with its place in tokens."""

    first: int
    last: int
    lo: float
    hi: float
    unit: str | None
    approx: bool
    shape: str
    said: str


@dataclass(frozen=True, slots=True)
class Day:
    """A date or window with its place in tokens."""

    first: int
    last: int
    from_: date | None
    to: date | None
    said: str
    again: Again = ""  # a bare weekday comes round every week, "the tenth" every month


@dataclass(frozen=True, slots=True)
class Candidates:
    """The document after respelling, and what was found in it."""

    document: Document
    mentions: tuple[Mention, ...]
    quantities: tuple[Number, ...]
    dates: tuple[Day, ...]
    things: tuple[Thing, ...]
    degrees: str = ""  # the scale that the keeper set for bare temperatures: "C", "F", "" none

    def features(self) -> list[list[int]]:
        """Per token: thing kind, quantity shape, label, date, respelled; 0 is none.

        FEATURE_SIZES gives the number of values of each.
        """
        rows = [[0] * len(FEATURE_SIZES) for _ in self.document.tokens]
        for thing in self.things:
            for i in range(thing.first, thing.last):
                rows[i][0] = 1 + KINDS.index(thing.kind)
        for number in self.quantities:
            for i in range(number.first, number.last):
                rows[i][1] = 1 + SHAPES.index(number.shape)
        for mention in self.mentions:
            for i in range(mention.first, mention.last):
                rows[i][2] = 1 + HOWS.index(mention.how)
        for day in self.dates:
            for i in range(day.first, day.last):
                rows[i][3] = 1
        for i, token in enumerate(self.document.tokens):
            rows[i][4] = 1 if token.heard else 0
        return rows


SHAPES = tuple(sorted(VALUE_SHAPES))
HOWS = ("cue", "bare", "both", "all", "rest", "next", "counted")
FEATURE_SIZES = (1 + len(KINDS), 1 + len(SHAPES), 1 + len(HOWS), 2, 2)


def numbers_of(document: Document, quantities: Sequence[Quantity]) -> tuple[Number, ...]:
    """The quantities of a document that can be values."""
    place = _placer(document)
    return tuple(
        _number(document, *place(q.start, q.end), q) for q in quantities if q.shape in VALUE_SHAPES
    )


def days_of(
    document: Document, recorded_on: date, quantities: Sequence[Quantity]
) -> tuple[Day, ...]:
    """The dates of a document, away from its quantities."""
    taken = [(q.start, q.end) for q in quantities]
    place = _placer(document)
    return tuple(
        Day(*place(d.start, d.end), d.from_, d.to, document.said(*place(d.start, d.end)), d.again)
        for d in find_dates(document.text, recorded_on, taken)
        if d.from_ or d.to
    )


def _number(document: Document, first: int, last: int, q: Quantity) -> Number:
    said = document.said(first, last)
    return Number(first, last, q.lo, q.hi, q.unit, q.approx, q.shape, said)


def _placer(document: Document) -> Callable[[int, int], tuple[int, int]]:
    """A function from characters to tokens, quick for many spans."""
    starts = [t.start for t in document.tokens]
    ends = [t.end for t in document.tokens]

    def place(start: int, end: int) -> tuple[int, int]:
        first = bisect_right(ends, start)
        return first, max(first + 1, bisect_left(starts, end))

    return place


def free_mentions(
    mentions: Sequence[Mention], numbers: Sequence[Number], dates: Sequence[Day]
) -> tuple[Mention, ...]:
    """Mentions that are not just the number of a measure, a ratio or a date."""
    bound = [(n.first, n.last) for n in numbers if n.unit or n.shape in ("ratio", "share")]
    bound += [(d.first, d.last) for d in dates]
    return tuple(
        mention
        for mention in mentions
        if mention.how == "cue"
        or not any(a <= mention.first and mention.last <= b for a, b in bound)
    )
