"""Days of brood and queens, the colours of queens, and the windows of treatments."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fieldvoice.errors import InputError
from fieldvoice.trade.load import trade_file


@dataclass(frozen=True, slots=True)
class Window:
    """Something that is expected between two days, both inclusive."""

    name: str
    first: date
    last: date
    source: str = ""

    def late(self, today: date) -> int:
        """Days past the last one; 0 or less if not yet."""
        return (today - self.last).days


def stage_days(caste: str) -> tuple[float, float, float, float]:
    """Days as egg, larva, capped, and in all, of "worker", "queen" or "drone".

    >>> stage_days("worker")
    (3, 6, 12, 21)
    """
    stages = trade_file("calendars")["stages"]
    if caste not in stages:
        raise InputError(f"{caste!r} is none of {', '.join(stages)}.")
    egg, larva, capped, total = stages[caste]
    return egg, larva, capped, total


def brood_calendar(laid: date, caste: str = "worker") -> tuple[Window, ...]:
    """When an egg of that day hatches, is capped and emerges."""
    egg, larva, _, total = stage_days(caste)
    ends = (("hatches", egg), ("capped", egg + larva), ("emerges", total))
    return tuple(window_after(name, laid, (days, days), "day table") for name, days in ends)


def queen_calendar(start: date, *, from_egg: bool = False) -> tuple[Window, ...]:
    """What follows a graft of day-old larvae, or an egg laid, on that day."""
    key = "from_egg" if from_egg else "from_graft"
    return tuple(
        window_after(step["name"], start, step[key], step["source"])
        for step in trade_file("calendars")["queen"]
    )


def queen_colour(year: int) -> str:
    """The mark of queens born in that year.

    >>> queen_colour(2026)
    'white'
    """
    colours = trade_file("calendars")["colours"]
    return next(str(colour) for colour, digits in colours.items() if year % 10 in digits)


def years_of(colour: str, today: date) -> tuple[int, ...]:
    """The two latest years a mark of that colour can stand for, latest first; none if unknown.

    Only a suggestion: the other half of the earth and some keepers count otherwise.

    >>> years_of("yellow", date(2026, 3, 1))
    (2022, 2017)
    """
    wanted = {"grey": "white", "gray": "white"}.get(colour.lower(), colour.lower())
    return tuple(y for y in range(today.year, today.year - 10, -1) if queen_colour(y) == wanted)


def out_window(start: date, days: tuple[int, int], name: str = "take out") -> Window:
    """The days on which something that went in on `start` is to come out."""
    return window_after(name, start, days, "label record")


def earliest_supers(out: date, days: int) -> date:
    """The first day supers may go on after a treatment came out, as the label record says."""
    return out + timedelta(days=days)


def window_after(
    name: str, start: date, days: tuple[float, float] | list[float], source: str
) -> Window:
    """The days so many days after `start`, first and last.

    Half days count from the morning: 8.5 days end on the ninth day at the latest.
    """
    first, last = days
    late = int(last) + (last != int(last))
    return Window(name, start + timedelta(days=int(first)), start + timedelta(days=late), source)
