"""Find every date in a text and place it against the recording's day: the scan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from fieldvoice.extraction.dates.absolute import read_absolute
from fieldvoice.extraction.dates.calendar import FULL_WEEKDAYS, MONTHS
from fieldvoice.extraction.dates.feasts import feast_starts
from fieldvoice.extraction.dates.model import DateSpan, Direction
from fieldvoice.extraction.dates.placing import Around, Found
from fieldvoice.extraction.dates.relative import read_relative
from fieldvoice.extraction.quantities.tokens import Token, low_at, tokenize
from fieldvoice.number_words import CARDINALS, ORDINALS

_JOINS = ("to", "through", "until", "till", "or", "-", "–")


def find_dates(
    text: str,
    recorded_on: date,
    taken: Sequence[tuple[int, int]] = (),
    *,
    day_first: bool = False,
) -> tuple[DateSpan, ...]:
    """Every date said in a text, in order and without overlap.

    `taken` are the spans (start, end) of quantities: a date that cuts into one is not given;
    one that holds it whole ("in two weeks") is. `day_first`: 5/6 is the fifth of June.

    >>> [(d.said, d.from_.isoformat()) for d in find_dates("Back in ten days.", date(2026, 5, 1))]
    [('in ten days', '2026-05-11')]
    """
    tokens = tokenize(text)
    found: list[Found] = []
    at = 0
    while at < len(tokens):
        around = Around(recorded_on, day_first, tuple(found))
        hit = _at(tokens, at, around) if _may_start(tokens, at) else None
        if hit is not None and _free(tokens, hit, taken):
            hit = _joined(tokens, hit, around)
            found.append(hit)
            at = hit.end
        else:
            at += 1
    return tuple(_span(text, tokens, f, recorded_on) for f in found)


_STARTS = (
    {"the", "a", "an", "another", "in", "within", "last", "next", "this", "coming", "past"}
    | {"day", "week", "fortnight", "weekend", "month", "year", "today", "tonight", "tomorrow"}
    | {"tomorow", "overmorrow", "yesterday", "night", "early", "mid", "late", "middle", "end"}
    | {"start", "beginning", "fall", "couple", "half", "one", "first"}
    | set(MONTHS)
    | set(FULL_WEEKDAYS)
    | set(CARDINALS)
    | set(ORDINALS)
)


def _may_start(tokens: Sequence[Token], at: int) -> bool:
    token = tokens[at]
    if token.kind in ("digits", "ordinal"):
        return True
    return token.low in _STARTS or token.low in feast_starts()


def _at(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    hits = [h for h in (read_absolute(tokens, at, around), read_relative(tokens, at, around)) if h]
    return max(hits, key=lambda h: h.end) if hits else None


def _free(tokens: Sequence[Token], hit: Found, taken: Sequence[tuple[int, int]]) -> bool:
    start, end = tokens[hit.first].start, tokens[hit.end - 1].end
    return all(e <= start or end <= s or (start <= s and e <= end) for s, e in taken)


def _joined(tokens: Sequence[Token], first: Found, around: Around) -> Found:
    """ "April 2nd to April 9th", "Friday or Saturday", "between Monday and Wednesday"."""
    word = low_at(tokens, first.end)
    between = word == "and" and low_at(tokens, first.first - 1) == "between"
    if first.days is None or not (word in _JOINS or between) or first.end + 1 >= len(tokens):
        return first
    around = replace(around, before=(*around.before, first))
    second = _at(tokens, first.end + 1, around)
    if second is None or second.days is None:
        return first
    days = second.days
    if days[0] < first.days[0] and second.kind == "day" and first.kind == "day":
        return first
    if not first.days[0] <= days[1] or (days[1] - first.days[0]).days > 366:
        return first
    return Found(first.first, second.end, (first.days[0], days[1]), "span")


def _span(text: str, tokens: Sequence[Token], found: Found, recorded_on: date) -> DateSpan:
    first = found.first
    start, end = tokens[first].start, tokens[found.end - 1].end
    if found.days is None or found.days == (recorded_on, recorded_on):
        return DateSpan(start, end, None, None, text[start:end], "today")
    out = DateSpan(
        start, end, *found.days, text[start:end], found.kind,
        _against(found, recorded_on), found.unsure, found.again,
    )  # fmt: skip
    if low_at(tokens, first - 1) in ("by", "before") and found.days[1] > recorded_on:
        start = tokens[first - 1].start
        out = replace(out, start=start, said=text[start:end], from_=recorded_on, kind="window")
    return out


def _against(found: Found, recorded_on: date) -> Direction | None:
    if found.days is None:
        return None
    if found.days[0] > recorded_on:
        return "future"
    return "past" if found.days[1] < recorded_on else None
