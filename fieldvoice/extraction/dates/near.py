"""Days named from the recording's own: "yesterday", "tomorrow morning", "today"."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.dates.calendar import add_days
from fieldvoice.extraction.dates.placing import Around, Found
from fieldvoice.extraction.quantities.tokens import Token, low_at, starts_phrase

_PARTS_OF_DAY = ("morning", "afternoon", "evening", "night", "lunchtime", "noon", "arvo")


_FIXED: tuple[tuple[tuple[str, ...], int], ...] = (
    (("the", "day", "before", "yesterday"), -2), (("day", "before", "yesterday"), -2),
    (("the", "day", "after", "tomorrow"), 2), (("day", "after", "tomorrow"), 2),
    (("the", "night", "before", "last"), -2), (("night", "before", "last"), -2),
    (("last", "night"), -1), (("yesterday",), -1), (("tomorrow",), 1), (("tomorow",), 1),
    (("today",), 0), (("tonight",), 0), (("this", "morning"), 0), (("this", "afternoon"), 0),
    (("this", "evening"), 0), (("this", "arvo"), 0), (("overmorrow",), 2),
)  # fmt: skip


_FIRST_WORDS = frozenset(phrase[0] for phrase, _ in _FIXED)


def read_fixed(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Yesterday" and its kin at a token, or None; days None where it is the recording's own."""
    if low_at(tokens, at) not in _FIRST_WORDS:
        return None
    for phrase, step in _FIXED:
        if starts_phrase(tokens, at, phrase):
            end = at + len(phrase)
            if low_at(tokens, end) == "week" and phrase in (("today",), ("tomorrow",)):
                day = add_days(around.recorded_on, step + 7)  # "tomorrow week"
                return Found(at, end + 1, (day, day), "day")
            if step == 0:
                return Found(at, end, None, "today")
            day = add_days(around.recorded_on, step)
            return Found(at, with_part_of_day(tokens, end), (day, day), "day")
    return None


def with_part_of_day(tokens: Sequence[Token], end: int) -> int:
    """The end of a day's name with "morning" or "evening" behind it."""
    return end + (low_at(tokens, end) in _PARTS_OF_DAY)
