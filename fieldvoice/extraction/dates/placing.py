"""A day and month as said, put into the right year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import lru_cache

from fieldvoice.extraction.dates.calendar import MONTHS, Days, choose
from fieldvoice.extraction.dates.model import Again, DateKind, Direction
from fieldvoice.extraction.dates.tense import tense_at
from fieldvoice.extraction.quantities.clock import read_year
from fieldvoice.extraction.quantities.numbers import read_number
from fieldvoice.extraction.quantities.tokens import Token, low_at, starts_phrase
from fieldvoice.number_words import TENS

_PRONOUNS = (
    "i", "we", "they", "you", "she", "he", "it", "that", "to", "which", "who", "one", "hive",
    "bees", "queen",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Found:
    """Days said over the tokens `first` to `end`, end exclusive; None for the recording's own."""

    first: int
    end: int
    days: Days | None
    kind: DateKind
    unsure: bool = False
    again: Again = ""


@dataclass(frozen=True, slots=True)
class Around:
    """What a date is read against."""

    recorded_on: date
    day_first: bool = False  # 5/6 is the fifth of June
    before: tuple[Found, ...] = ()  # the dates of this text read so far


@lru_cache(maxsize=512)
def _parse(text: str, base: date) -> date | None:
    """A rewritten span by dateparser; None where it reads no date."""
    import dateparser

    found = dateparser.parse(
        text,
        languages=["en"],
        settings={
            "RELATIVE_BASE": datetime.combine(base, time(12)),
            "PREFER_DATES_FROM": "current_period",
            "REQUIRE_PARTS": ["day", "month"],
            "STRICT_PARSING": False,
        },
    )
    return found.date() if found else None


def dated(day: int, month: int, year: int, base: date) -> date | None:
    """A calendar day, or None where there is none ("the thirty first of April")."""
    if not (1 <= day <= 31 and 1 <= month <= 12 and 1 <= year <= 9999):
        return None
    name = date(2000, month, 1).strftime("%B")
    found = _parse(f"{day} {name} {year:04d}", base)
    # dateparser bends impossible days to the month's last; such a date is not one.
    return found if found and (found.day, found.month, found.year) == (day, month, year) else None


def past_units(number: int, unit: str, base: date) -> date | None:
    """ "3 weeks ago" (negative: from now) counted back from a day, by dateparser."""
    if abs(number) > 2000:
        return None
    text = f"{number} {unit}s ago" if number >= 0 else f"in {-number} {unit}s"
    return _parse(text, base)


def day_number(tokens: Sequence[Token], at: int, *, cardinal: bool) -> tuple[int, int] | None:
    """A day of the month, as ordinal or (after a month's name) as number: (end, day)."""
    if at >= len(tokens) or low_at(tokens, at - 1) in TENS:
        return None  # "first" in "thirty first" is no day of its own
    number = read_number(tokens, at)
    if number is None or not 1 <= number.value <= 31 or not float(number.value).is_integer():
        return None
    if number.kind == "ordinal" or (cardinal and number.kind in ("digits", "cardinal")):
        return number.end, int(number.value)
    return None


def year_after(tokens: Sequence[Token], at: int) -> tuple[int, int | None]:
    """A year behind a day or month: (end, year); 1 and -1 stand for "next" and "last year"."""
    i = at + (low_at(tokens, at) == ",")
    if i < len(tokens):
        word = tokens[i].low
        if (
            tokens[i].kind == "digits"
            and len(word) == 4
            and word.isdecimal()
            and 1900 <= int(word) <= 2099
        ):
            return i + 1, int(word)
        if (spoken := read_year(tokens, i)) is not None:
            return spoken[0], int(spoken[1])
    for back, words in ((1, ("last", "year")), (-1, ("next", "year"))):
        if starts_phrase(tokens, i + (low_at(tokens, i) == "of"), words):
            return i + 2 + (low_at(tokens, i) == "of"), -back
    return at, None


def placed(
    tokens: Sequence[Token],
    span: tuple[int, int],
    parts: tuple[int, int, int | None],
    around: Around,
) -> Found | None:
    """A day and month, in the year that was said or the one the tense asks for."""
    day, month, year = parts
    base = around.recorded_on
    if year in (1, -1):
        year = base.year + year
    if year is not None:
        only = dated(day, month, year, base)
        return Found(*span, (only, only), "day") if only else None
    near = (dated(day, month, base.year + k, base) for k in (-1, 0, 1))
    candidates = [(d, d) for d in near if d is not None]
    if not candidates:
        return None
    direction = direction_of(tokens, span)
    return Found(*span, choose(candidates, base, direction), "day", unsure=False)


def direction_of(tokens: Sequence[Token], span: tuple[int, int]) -> Direction | None:
    """Past or future, by the word before a date or else the tense of its clause."""
    before = low_at(tokens, span[0] - 1)
    if before in ("by", "until", "till", "before"):
        return tense_at(tokens, *span) or "future"
    if before == "since" or (before == "on" and low_at(tokens, span[0] - 2) == "back"):
        return "past"
    if before == "in" and low_at(tokens, span[0] - 2) == "back":
        return "past"
    return tense_at(tokens, *span)


def month_at(tokens: Sequence[Token], at: int) -> int | None:
    """The month named at a token; "they may" and "to march" name none."""
    word = low_at(tokens, at)
    month = MONTHS.get(word)
    if month is None or (word in ("may", "march") and low_at(tokens, at - 1) in _PRONOUNS):
        return None
    return month
