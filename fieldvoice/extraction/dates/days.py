"""Days of the calendar: "April second", "Monday the thirteenth", "by the 28th"."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from fieldvoice.extraction.dates.calendar import FULL_MONTHS, FULL_WEEKDAYS, choose, month_of
from fieldvoice.extraction.dates.placing import (
    Around,
    Found,
    dated,
    day_number,
    direction_of,
    month_at,
    placed,
    year_after,
)
from fieldvoice.extraction.dates.tense import cue_at, tense_at
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.number_words import CARDINALS

_DAY_CUES = (
    "on", "by", "since", "until", "till", "from", "before", "after", "around", "about", "was",
    "is", "through", "'s", "it", "for",
)  # fmt: skip


_PLACE_CUES = ("on", "from", "for", "is", "was", "through", "around", "about", "it", "'s")


_PLACES = ("frame", "frames", "comb", "combs", "box", "bar", "bars", "seam", "seams", "row")
_COUNTED = (*_PLACES, "hive", "one", "time", "super", "box", "boxes", "colony", "nuc", "year")
_WEAK_CUES = (",", "come", "then", "so", "eh", "to")  # only a tenth, not a first or second


_CLOSES = (
    "and", "when", "if", "so", "all", "i", "we", "it", "they", "she", "with", "at", "or", "to", "of",
    "but", "because", "off", "then", "in", "after", "before", "for", "now", "as", "until", "till", "there", "he", "you",
    "is", "was", "unless", "by", "from", "again", "though", "that", "this", "weather", "on", "around", "about",
)  # fmt: skip


def read_month_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "April second", "October the ninth", "April 2, 2026"."""
    month = month_at(tokens, at)
    if month is None:
        return None
    short = low_at(tokens, at) not in FULL_MONTHS  # "Oct. 5", but "since October. Five has"
    i = at + 1 + (short and low_at(tokens, at + 1) == ".")
    article = low_at(tokens, i) == "the"
    day = day_number(tokens, i + article, cardinal=not article)
    if day is None or (
        low_at(tokens, at) in ("may", "march") and not _is_dated(tokens, at, day[0])
    ):
        return None
    end, year = year_after(tokens, day[0])
    return placed(tokens, (at, end), (day[1], month, year), around)


def _is_dated(tokens: Sequence[Token], at: int, end: int) -> bool:
    """ "May two" alone is no date; "May second", "May 2" are."""
    return not (end == at + 2 and low_at(tokens, at + 1) in CARDINALS)


def read_day_of_month(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "The fifth of November", "2nd of April", "the 21st of last month"."""
    i = at + (low_at(tokens, at) == "the")
    day = day_number(tokens, i, cardinal=False)
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
    month = month_at(tokens, i)
    if month is None or (i == end and low_at(tokens, i) in ("may", "march")):
        return None
    end, year = year_after(tokens, i + 1)
    return placed(tokens, (at, end), (day[1], month, year), around)


def read_weekday_and_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "Monday the thirteenth", "Friday, April tenth"."""
    weekday = FULL_WEEKDAYS.get(low_at(tokens, at))
    if weekday is None:
        return None
    i = at + 1 + (low_at(tokens, at + 1) == ",")
    found = read_month_day(tokens, i, around) or read_day_of_month(tokens, i, around)
    if found is not None:
        return Found(at, found.end, found.days, found.kind)
    day = day_number(tokens, i + 1, cardinal=False) if low_at(tokens, i) == "the" else None
    if day is None:
        return None
    base = around.recorded_on
    months = [month_of(base.year, base.month + k)[0] for k in range(-6, 7)]
    days = [dated(day[1], m.month, m.year, base) for m in months]
    fitting = [(d, d) for d in days if d is not None and d.weekday() == weekday]
    if not fitting:
        return None
    return Found(at, day[0], choose(fitting, base, tense_at(tokens, at, day[0])), "day")


def read_bare_day(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "By the 28th", "on the fifteenth": a day of this month or of its neighbours."""
    before = low_at(tokens, at - 1)
    goes_on = bool(around.before) and around.before[-1].end == at - 1 and before in ("and", "or")
    article = low_at(tokens, at) == "the"
    if not article and (tokens[at].kind != "ordinal" or before not in ("on", "by", "till")):
        return None
    # a recogniser writes "on the 29" as well
    digits = article and at + 1 < len(tokens) and tokens[at + 1].kind == "digits"
    bare = digits and before in ("on", "by", "till", "until", "before")
    day = day_number(tokens, at + article, cardinal=bare)
    if day is None:
        return None
    end, number = day
    late = number > 10  # an eleventh or later counts nothing in a yard but days
    if not (before in _DAY_CUES or goes_on or late or (before in _WEAK_CUES and number == 10)):
        return None
    after = low_at(tokens, end)
    closes = not after or tokens[end].kind == "mark" or after in _CLOSES or (late and not bare)
    if not closes or after in ("of", "-", *_COUNTED):
        return None
    if after in ("and", "or") and day_number(tokens, end + 1, cardinal=False) is not None:
        return None  # "the second and third frame"
    if number <= 10 and low_at(tokens, at - 1) in _PLACE_CUES and _speaks_of_places(tokens, at):
        return None
    base = around.recorded_on
    months = [month_of(base.year, base.month + k)[0] for k in (-2, -1, 0, 1, 2)]
    days = [dated(number, m.month, m.year, base) for m in months]
    candidates = [(d, d) for d in days if d is not None]
    if (month := _month_before(tokens, at, around)) is not None:
        only = dated(number, month.month, month.year, base)
        return Found(at, end, (only, only), "day") if only else None
    if (earlier := _day_before(tokens, at, around)) is not None:
        later = [d for d in candidates if d[0] > earlier]
        return Found(at, end, min(later), "day") if later else None
    direction = direction_of(tokens, (at, end))
    return Found(at, end, choose(candidates, base, direction), "day", direction is None, "month")


def _month_before(tokens: Sequence[Token], at: int, around: Around) -> date | None:
    """ "In June, on the tenth": the month just said, if only a few words lie between."""
    last = around.before[-1] if around.before else None
    if last is None or last.days is None or last.kind != "month" or at - last.end > 4:
        return None
    return None if any(t.low in (".", "?", "!") for t in tokens[last.end : at]) else last.days[0]


def _day_before(tokens: Sequence[Token], at: int, around: Around) -> date | None:
    """ "In on the 7th, out on the 28th": the day just said, if no verb lies between."""
    if not around.before or around.before[-1].kind != "day":
        return None
    last = around.before[-1]
    between = range(last.end, at)
    if len(between) > 4 or any(tokens[k].low in (".", "?", "!") for k in between):
        return None
    quiet = all(cue_at(tokens, k) is None for k in between)
    return last.days[0] if last.days and quiet else None


def _speaks_of_places(tokens: Sequence[Token], at: int) -> bool:
    """ "On the third" after "frame" or "comb" is a place in the hive."""
    i = at
    while i > 0 and tokens[i - 1].low not in (".", "?", "!"):
        i -= 1
        if tokens[i].low in _PLACES:
            return True
    return False
