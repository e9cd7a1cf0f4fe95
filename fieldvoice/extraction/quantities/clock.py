"""Times of day and years, so that nobody takes their numbers for an amount."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.quantities.numbers import read_number
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.number_words import CARDINALS, ONES, TEENS, TENS

_GOING = (
    "there", "back", "here", "home", "start", "started", "finish", "finished", "out", "left",
    "again", "done",
)  # fmt: skip
HALVES_OF_DAY = ("am", "pm", "a.m", "p.m", "a.m.", "p.m.")
_TIME_CUES = (
    "at", "around", "about", "by", "till", "until", "since", "from", "before", "after", "past",
    "it", "'s",
)  # fmt: skip
_PARTS_OF_DAY = (
    "tonight", "morning", "afternoon", "evening", "sharp", "today", "tomorrow", "yesterday",
)  # fmt: skip
_YEAR_CUES = (
    "in", "since", "of", "from", "till", "until", "late", "early", "spring", "summer", "fall",
    "autumn", "winter", "before", "after", "during", "back",
)  # fmt: skip
_HOURS = {w: n for w, n in CARDINALS.items() if 1 <= n <= 12}


def read_clock(tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
    """A time of day at a place: (end, hours since midnight or noon), or None.

    "half past six", "quarter to ten", "11:30", "ten thirty" after "at", "two o'clock", "6 pm".
    """
    word = low_at(tokens, at)
    if word in ("half", "quarter", "a") or tokens[at].kind == "digits" or word in CARDINALS:
        return _past_or_to(tokens, at) or _digital(tokens, at) or _spoken(tokens, at)
    return None


def _past_or_to(tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
    i = at + (low_at(tokens, at) == "a")
    word = low_at(tokens, i)
    minutes = {"half": 30, "quarter": 15}.get(word)
    if minutes is None and word in CARDINALS and 5 <= CARDINALS[word] <= 25:
        minutes = CARDINALS[word]
    side = low_at(tokens, i + 1)
    hour = _hour(tokens, i + 2)
    if side == "past" and hour is None and minutes is not None and _clock_ends(tokens, i + 2):
        return i + 2, minutes / 60  # "twenty past": the hour goes unsaid
    if minutes is None or hour is None:
        return None
    if side == "past" or (side == "to" and word == "quarter" and not _measure_like(tokens, i + 3)):
        return i + 3, hour + minutes / 60 if side == "past" else hour - minutes / 60
    cued = low_at(tokens, at - 1) == "at" or low_at(tokens, i + 3) == "o'clock"
    if side == "to" and minutes in (5, 10, 20, 25) and cued and low_at(tokens, i + 3) == "o'clock":
        return i + 4, hour - minutes / 60
    return None


def _measure_like(tokens: Sequence[Token], at: int) -> bool:
    return low_at(tokens, at) in ("inch", "inches", "pound", "cup", "of", "full", "point", "and")


def _hour(tokens: Sequence[Token], at: int) -> int | None:
    word = low_at(tokens, at)
    if word.isdecimal() and len(word) <= 2 and 1 <= int(word) <= 12:
        return int(word)
    return _HOURS.get(word)


def _half_of_day(tokens: Sequence[Token], at: int) -> bool:
    if low_at(tokens, at) in HALVES_OF_DAY:
        return True
    return (
        low_at(tokens, at) == "in"
        and low_at(tokens, at + 1) == "the"
        and (low_at(tokens, at + 2) in ("morning", "afternoon", "evening"))
    )


def _digital(tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
    if tokens[at].kind != "digits":
        return None
    word = tokens[at].low
    minutes = low_at(tokens, at + 2)
    if low_at(tokens, at + 1) == ":" and len(minutes) == 2 and minutes.isdecimal():
        joined = tokens[at + 1].glued and tokens[at + 2].glued
        if joined and word.isdecimal() and int(word) < 24 and int(minutes) < 60:
            end = at + 3 + (low_at(tokens, at + 3) in HALVES_OF_DAY)
            return end, int(word) + int(minutes) / 60
    if (
        word.replace(".", "").isdecimal()
        and float(word) < 13
        and low_at(tokens, at + 1) in HALVES_OF_DAY
    ):
        whole, _, part = word.partition(".")
        if len(part) in (0, 2):
            return at + 2, int(whole) + int(part or 0) / 60
    return None


def _spoken(tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
    hour = _hour(tokens, at)
    if hour is None:
        return None
    if low_at(tokens, at + 1) == "o'clock":
        return at + 2, float(hour)
    cued = low_at(tokens, at - 1) in _TIME_CUES
    minutes, end = _minutes(tokens, at + 1)
    if minutes is not None and (_half_of_day(tokens, end) or (cued and _clock_ends(tokens, end))):
        return end + (low_at(tokens, end) in HALVES_OF_DAY), hour + minutes / 60
    if _half_of_day(tokens, at + 1) and tokens[at].low != "one":
        return at + 1 + (low_at(tokens, at + 1) in HALVES_OF_DAY), float(hour)
    if low_at(tokens, at - 1) == "at" and low_at(tokens, at - 2) in _GOING:
        return (at + 1, float(hour)) if _clock_ends(tokens, at + 1) else None
    if low_at(tokens, at - 1) == "at" and low_at(tokens, at + 1) in (
        "tonight",
        "today",
        "tomorrow",
        "yesterday",
        "sharp",
        "this",
    ):
        return at + 1, float(hour)
    return None


def _minutes(tokens: Sequence[Token], at: int) -> tuple[int | None, int]:
    word = low_at(tokens, at)
    if word == "oh" and low_at(tokens, at + 1) in ONES:
        return ONES[low_at(tokens, at + 1)], at + 2
    if word in TENS and TENS[word] < 60:
        one = ONES.get(low_at(tokens, at + 1), 0)
        return (TENS[word] + one, at + 2) if one == 5 else (TENS[word], at + 1)
    if word in TEENS and TEENS[word] in (10, 15):
        return TEENS[word], at + 1
    return None, at


def _clock_ends(tokens: Sequence[Token], at: int) -> bool:
    after = low_at(tokens, at)
    return not after or tokens[at].kind == "mark" or after in (
        "and", "at", "when", "so", "i", "we", "they", "she", "on", "in", "this", *_PARTS_OF_DAY,
    )  # fmt: skip


def read_year(tokens: Sequence[Token], at: int) -> tuple[int, float] | None:
    """A calendar year at a place: (end, year), or None. "twenty twenty four", "in 2024"."""
    word = low_at(tokens, at)
    if tokens[at].kind == "digits":
        right = len(word) == 4 and word.isdecimal() and 1900 <= int(word) <= 2099
        before = low_at(tokens, at - 1)
        if right and (
            before in _YEAR_CUES or before[:3] in _MONTH_STARTS or _day_before(tokens, at)
        ):
            return at + 1, float(word)
        return None
    century = {"nineteen": 1900, "twenty": 2000}.get(word)
    if century is None:
        return None
    rest = read_number(tokens, at + 1)
    if rest is None or rest.kind != "cardinal" or not 10 <= rest.value <= 99:
        return None
    return rest.end, century + rest.value


_MONTH_STARTS = ("jan", "feb", "apr", "jun", "jul", "aug", "sep", "oct", "nov", "dec", "may", "mar")


def _day_before(tokens: Sequence[Token], at: int) -> bool:
    """ "October 9, 2026"."""
    return (
        low_at(tokens, at - 1) == ","
        and (
            low_at(tokens, at - 2).isdecimal()
            or low_at(tokens, at - 2)[-2:] in ("st", "nd", "rd", "th")
        )
        and low_at(tokens, at - 3)[:3] in _MONTH_STARTS
    )
