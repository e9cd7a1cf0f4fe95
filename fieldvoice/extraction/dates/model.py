"""A date as said, with its place in the text and the days it stands for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

Direction = Literal["past", "future"]
Again = Literal["", "week", "month"]
DateKind = Literal["today", "day", "week", "weekend", "month", "year", "window", "span"]


@dataclass(frozen=True, slots=True)
class DateSpan:
    """A date as said. `start` and `end` are characters of the text, end exclusive.

    `from_` and `to` are the first and last day meant, both inclusive; both are None where
    the words name the day of the recording ("today", kind "today"). `kind` is "span" where
    two dates were said as one stretch, "window" where the words leave room ("by the tenth").
    """

    start: int
    end: int
    from_: date | None
    to: date | None
    said: str
    kind: DateKind
    direction: Direction | None = None  # against the day of the recording
    unsure: bool = False  # nothing in the clause told past from future
    again: Again = ""  # how the words come round: a bare "Monday" every week
