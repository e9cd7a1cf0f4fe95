"""Dates that name a day or month of the calendar: "April second", "the 28th", "5/6", "in May"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import lru_cache

from fieldvoice.extraction.dates.calendar import (
    FULL_WEEKDAYS,
    MONTHS,
    Days,
    add_days,
    choose,
    month_of,
    nth_weekday,
    week_of,
)
from fieldvoice.extraction.dates.model import DateKind, Direction
from fieldvoice.extraction.dates.tense import tense_at
from fieldvoice.extraction.quantities.marks import read_year
from fieldvoice.extraction.quantities.numbers import CARDINALS, read_number
from fieldvoice.extraction.quantities.tokens import Token, low_at, starts_phrase
from fieldvoice.trade.load import trade_file

_WORD_MONTHS = ("may", "march", "august", "mar", "jun", "dec", "sep")
_MONTH_CUES = (
    "in",
    "since",
    "till",
    "until",
    "by",
    "before",
    "after",
    "during",
    "of",
    "from",
    "through",
    "late",
    "early",
    "mid",
    "this",
)
_DAY_CUES = (
    "on",
    "by",
    "since",
    "until",
    "till",
    "from",
    "before",
    "after",
    "around",
    "about",
    "was",
    "is",
    "through",
    "'s",
    "it",
    "for",
)
_PLACE_CUES = ("on", "from", "for", "is", "was", "through", "around", "about", "it", "'s")
_PRONOUNS = (
    "i",
    "we",
    "they",
    "you",
    "she",
    "he",
    "it",
    "that",
    "to",
    "which",
    "who",
    "one",
    "hive",
    "bees",
    "queen",
)
_PLACES = (
    "frame",
    "frames",
    "comb",
    "combs",
    "box",
    "bar",
    "bars",
    "seam",
    "super",
    "hive",
    "row",
    "one",
    "pallet",
    "stand",
)
_CLOSES = (
    "and", "when", "if", "so", "all", "i", "we", "it", "they", "she", "with", "at", "or", "to", "of",
    "but", "because", "then", "in", "after", "before", "for", "now", "as", "until", "till", "there", "he", "you",
    "is", "was", "unless", "by", "from", "again", "though", "that", "this", "weather", "on", "around", "about",
)  # fmt: skip
_PARTS = {"early": (1, 10), "mid": (10, 20), "middle": (10, 20), "late": (21, 31)}
_NTH = {
    "first": 1,
    "second": 2,
    "third": 3,
    "fourth": 4,
    "fifth": 5,
    "last": -1,
    "1st": 1,
    "2nd": 2,
    "3rd": 3,
    "4th": 4,
}


@dataclass(frozen=True, slots=True)
class Found:
    """Days said over the tokens `first` to `end`, end exclusive; None for the recording's own."""

    first: int
    end: int
    days: Days | None
    kind: DateKind
    unsure: bool = False


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


def read_absolute(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """The calendar date that starts at a token, or None."""
    return (
        _weekday_and_day(tokens, at, around)
        or _month_day(tokens, at, around)
        or _day_of_month(tokens, at, around)
        or _numeric(tokens, at, around)
        or _nth_of(tokens, at, around)
        or _part_of_month(tokens, at, around)
        or _month(tokens, at, around)
        or _named_day(tokens, at, around)
        or _season_or_year(tokens, at)
        or _bare_day(tokens, at, around)
    )


def _day_number(tokens: Sequence[Token], at: int, *, cardinal: bool) -> tuple[int, int] | None:
    """A day of the month, as ordinal or (after a month's name) as number: (end, day)."""
    if at >= len(tokens):
        return None
    number = read_number(tokens, at)
    if number is None or not 1 <= number.value <= 31 or not float(number.value).is_integer():
        return None
    if number.kind == "ordinal" or (cardinal and number.kind in ("digits", "cardinal")):
        return number.end, int(number.value)
    return None


def _year_after(tokens: Sequence[Token], at: int) -> tuple[int, int | None]:
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


def _placed(
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
    direction = _direction(tokens, span)
    return Found(*span, choose(candidates, base, direction), "day", unsure=False)


def _direction(tokens: Sequence[Token], span: tuple[int, int]) -> Direction | None:
    before = low_at(tokens, span[0] - 1)
    if before in ("by", "until", "till", "before"):
        past = tense_at(tokens, *span) == "past" and before in ("before", "until", "till")
        return "past" if past else "future"
    if before == "since" or (before == "on" and low_at(tokens, span[0] - 2) == "back"):
        return "past"
    if before == "in" and low_at(tokens, span[0] - 2) == "back":
        return "past"
    return tense_at(tokens, *span)


def _month_stands(tokens: Sequence[Token], at: int) -> int | None:
    word = low_at(tokens, at)
    month = MONTHS.get(word)
    if month is None or (word in ("may", "march") and low_at(tokens, at - 1) in _PRONOUNS):
        return None
    return month


def _month_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "April second", "October the ninth", "April 2, 2026"."""
    month = _month_stands(tokens, at)
    if month is None:
        return None
    i = at + 1 + (low_at(tokens, at + 1) == ".")
    article = low_at(tokens, i) == "the"
    day = _day_number(tokens, i + article, cardinal=not article)
    if day is None or (
        low_at(tokens, at) in ("may", "march") and not _is_dated(tokens, at, day[0])
    ):
        return None
    end, year = _year_after(tokens, day[0])
    return _placed(tokens, (at, end), (day[1], month, year), around)


def _is_dated(tokens: Sequence[Token], at: int, end: int) -> bool:
    """ "May two" alone is no date; "May second", "May 2" are."""
    return not (end == at + 2 and low_at(tokens, at + 1) in CARDINALS)


def _day_of_month(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "The fifth of November", "2nd of April", "the 21st of last month"."""
    i = at + (low_at(tokens, at) == "the")
    day = _day_number(tokens, i, cardinal=False)
    if day is None:
        return None
    end = day[0]
    if low_at(tokens, end) == "of" and low_at(tokens, end + 1) in ("last", "next", "this", "the"):
        if low_at(tokens, end + 2) != "month":
            return None
        step = {"last": -1, "next": 1}.get(low_at(tokens, end + 1), 0)
        first, _ = month_of(around.recorded_on.year, around.recorded_on.month + step)
        only = dated(day[1], first.month, first.year, around.recorded_on)
        return Found(at, end + 3, (only, only), "day") if only else None
    i = end + (low_at(tokens, end) == "of")
    month = _month_stands(tokens, i)
    if month is None or (i == end and low_at(tokens, i) in ("may", "march")):
        return None
    end, year = _year_after(tokens, i + 1)
    return _placed(tokens, (at, end), (day[1], month, year), around)


def _weekday_and_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Monday the thirteenth", "Friday, April tenth"."""
    weekday = FULL_WEEKDAYS.get(low_at(tokens, at))
    if weekday is None:
        return None
    i = at + 1 + (low_at(tokens, at + 1) == ",")
    found = _month_day(tokens, i, around) or _day_of_month(tokens, i, around)
    if found is not None:
        return Found(at, found.end, found.days, found.kind)
    day = _day_number(tokens, i + 1, cardinal=False) if low_at(tokens, i) == "the" else None
    if day is None:
        return None
    base = around.recorded_on
    months = [month_of(base.year, base.month + k)[0] for k in range(-6, 7)]
    days = [dated(day[1], m.month, m.year, base) for m in months]
    fitting = [(d, d) for d in days if d is not None and d.weekday() == weekday]
    if not fitting:
        return None
    return Found(at, day[0], choose(fitting, base, tense_at(tokens, at, day[0])), "day")


def _numeric(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "5/6" after "on", "8/14/2026", "2026-04-02", "ten twelve twenty five" after "on"."""
    if tokens[at].kind == "digits" and low_at(tokens, at + 1) in ("/", "-"):
        mark = tokens[at + 1].low
        parts = [low_at(tokens, at + k) for k in (0, 2, 4)]
        full = low_at(tokens, at + 3) == mark
        numbers = [int(p) if p.isdecimal() and len(p) <= 4 else 0 for p in parts]
        if full and numbers[0] > 1900 and mark == "-":
            return _placed(tokens, (at, at + 5), (numbers[2], numbers[1], numbers[0]), around)
        if mark == "/" and all(numbers[:2]):
            return _slashed(tokens, at, numbers, around, full=full)
        return None
    if low_at(tokens, at - 1) not in ("on", "since", "until", "by", "from"):
        return None
    return _read_out(tokens, at, around)


def _slashed(
    tokens: Sequence[Token], at: int, numbers: list[int], around: Around, *, full: bool
) -> Found | None:
    cued = low_at(tokens, at - 1) in ("on", "since", "until", "by", "from", "dated")
    if not (cued or (full and numbers[2])):
        return None
    month, day = numbers[:2]
    if month > 12 or (around.day_first and day <= 12):
        month, day = day, month
    year = numbers[2] if full else None
    if year is not None and year < 100:
        year += 2000
    return _placed(tokens, (at, at + (5 if full else 3)), (day, month, year), around)


def _read_out(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    values, i = [], at
    for _ in range(3):
        number = read_number(tokens, i) if i < len(tokens) else None
        if number is None or number.kind not in ("cardinal", "digits") or number.value > 2099:
            return None
        values.append(int(number.value))
        i = number.end
    month, day, year = values
    if month > 12:
        month, day = day, month
    if not (1 <= month <= 12 and 1 <= day <= 31 and (20 <= year <= 49 or year >= 2000)):
        return None
    return _placed(tokens, (at, i), (day, month, year + 2000 if year < 100 else year), around)


def _month_days(
    tokens: Sequence[Token], at: int, around: Around, first: int
) -> tuple[int, Days] | None:
    """A month, as name or as "the month", with its days: (end, days)."""
    base = around.recorded_on
    for phrase, step in (
        (("the", "month"), 0),
        (("this", "month"), 0),
        (("next", "month"), 1),
        (("last", "month"), -1),
    ):
        if starts_phrase(tokens, at, phrase):
            return at + 2, month_of(base.year, base.month + step)
    step = {"last": -1, "next": 1, "this": 0}.get(low_at(tokens, at), 5)
    at += step != 5
    month = _month_stands(tokens, at)
    if month is None:
        return None
    end, year = _year_after(tokens, at + 1)
    if year in (1, -1):
        year = base.year + year
    if year is not None:
        return end, month_of(year, month)
    candidates = [month_of(base.year + k, month) for k in (-1, 0, 1)]
    if step == -1:
        return end, max(d for d in candidates if d[1] < base)
    if step == 1:
        return end, min(d for d in candidates if d[0] > base)
    return end, choose(candidates, base, _direction(tokens, (first, end)))


def _nth_of(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "The second Saturday in December", "the first week of May", "last weekend of June"."""
    i = at + (low_at(tokens, at) == "the")
    nth = _NTH.get(low_at(tokens, i))
    name = low_at(tokens, i + 1)
    if nth is None or low_at(tokens, i + 2) not in ("of", "in"):
        return None
    if name not in ("week", "weekend") and name not in FULL_WEEKDAYS:
        return None
    month = _month_days(tokens, i + 3, around, at)
    if month is None:
        return None
    end, days = month
    if name == "week":
        start = add_days(days[1], -6) if nth == -1 else add_days(days[0], 7 * (nth - 1))
        return Found(at, end, (start, min(add_days(start, 6), days[1])), "week")
    day = nth_weekday(days, FULL_WEEKDAYS.get(name, 5), nth)
    if day is None:
        return None
    if name == "weekend":
        return Found(at, end, (day, add_days(day, 1)), "weekend")
    return Found(at, end, (day, day), "day")


def _part_of_month(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Mid June", "late August", "the end of the month", "the week of May 4th"."""
    i = at + (low_at(tokens, at) == "the")
    word = low_at(tokens, i)
    if word in ("early", "mid", "late", "middle"):
        after = i + 1 + (low_at(tokens, i + 1) in ("-", "of", "in"))
        month = _month_days(tokens, after, around, at)
        if month is None:
            return None
        first, last = _PARTS[word]
        return _cut(at, month, first, min(last, month[1][1].day))
    if word in ("end", "start", "beginning") and low_at(tokens, i + 1) == "of":
        month = _month_days(tokens, i + 2, around, at)
        if month is None:
            return None
        final = month[1][1].day
        return _cut(at, month, *((final - 6, final) if word == "end" else (1, 7)))
    if word == "week" and low_at(tokens, i + 1) == "of":
        found = _month_day(tokens, i + 2, around) or _day_of_month(tokens, i + 2, around)
        if found is not None and found.days is not None:
            return Found(at, found.end, week_of(found.days[0]), "week")
    return None


def _cut(at: int, month: tuple[int, Days], first: int, last: int) -> Found:
    end, (start, _) = month
    return Found(at, end, (start.replace(day=first), start.replace(day=last)), "window")


def _month(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "In November", "last July", "till December": a month is its first to its last day."""
    word = low_at(tokens, at)
    i = at
    if word in ("last", "next", "this"):
        i = at + 1
    elif low_at(tokens, at - 1) not in _MONTH_CUES:
        return None
    if _month_stands(tokens, i) is None or low_at(tokens, i + 1) == "'s":
        return None
    month = _month_days(tokens, at, around, at)
    return Found(at, month[0], month[1], "month") if month else None


def _named_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Halloween", "New Year's Day"."""
    table: dict[str, list[int]] = trade_file("dates")["named_days"]
    for size in (4, 3, 2, 1):
        name = " ".join(t.low for t in tokens[at : at + size])
        if name in table:
            month, day = table[name]
            end, year = _year_after(tokens, at + size)
            return _placed(tokens, (at, end), (day, month, year), around)
    return None


def _season_or_year(tokens: Sequence[Token], at: int) -> Found | None:
    """ "The fall of 2024", "in 2023", "twenty twenty three".

    Only "fall" is placed: it is said where it comes in September. The other seasons depend
    on the hemisphere and give no date.
    """
    i = at + (low_at(tokens, at) == "the")
    if low_at(tokens, i) == "fall":
        after = i + 1 + (low_at(tokens, i + 1) == "of")
        year = read_year(tokens, after) if after < len(tokens) else None
        if year is not None:
            y = int(year[1])
            return Found(at, year[0], (date(y, 9, 1), date(y, 11, 30)), "window")
        return None
    year = read_year(tokens, at)
    if year is None:
        return None
    return Found(at, year[0], (date(int(year[1]), 1, 1), date(int(year[1]), 12, 31)), "year")


def _bare_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "By the 28th", "on the fifteenth": a day of this month or of its neighbours."""
    if low_at(tokens, at) != "the" or low_at(tokens, at - 1) not in _DAY_CUES:
        return None
    day = _day_number(tokens, at + 1, cardinal=False)
    if day is None:
        return None
    end, number = day
    after = low_at(tokens, end)
    closes = not after or tokens[end].kind == "mark" or after in _CLOSES
    if not closes or after == "of" or low_at(tokens, end) == "-":
        return None
    if number <= 10 and low_at(tokens, at - 1) in _PLACE_CUES and _speaks_of_places(tokens, at):
        return None
    base = around.recorded_on
    months = [month_of(base.year, base.month + k)[0] for k in (-2, -1, 0, 1, 2)]
    days = [dated(number, m.month, m.year, base) for m in months]
    candidates = [(d, d) for d in days if d is not None]
    direction = _direction(tokens, (at, end))
    return Found(at, end, choose(candidates, base, direction), "day", unsure=direction is None)


def _speaks_of_places(tokens: Sequence[Token], at: int) -> bool:
    """ "On the third" after "frame" or "comb" is a place in the hive."""
    i = at
    while i > 0 and tokens[i - 1].low not in (".", "?", "!"):
        i -= 1
        if tokens[i].low in _PLACES:
            return True
    return False
