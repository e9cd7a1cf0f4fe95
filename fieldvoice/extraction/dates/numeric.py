"""Days in numbers: "on 5/6", "8/14/2026", "on ten twelve twenty five"."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.dates.placing import Around, Found, placed
from fieldvoice.extraction.quantities.numbers import read_number
from fieldvoice.extraction.quantities.tokens import Token, low_at


def read_numeric(tokens: Sequence[Token], at: int, around: Around) -> Found | None:
    """ "5/6" after "on", "8/14/2026", "2026-04-02", "ten twelve twenty five" after "on"."""
    if tokens[at].kind == "digits" and low_at(tokens, at + 1) in ("/", "-"):
        mark = tokens[at + 1].low
        parts = [low_at(tokens, at + k) for k in (0, 2, 4)]
        full = low_at(tokens, at + 3) == mark
        numbers = [int(p) if p.isdecimal() and len(p) <= 4 else 0 for p in parts]
        if full and numbers[0] > 1900 and mark == "-":
            return placed(tokens, (at, at + 5), (numbers[2], numbers[1], numbers[0]), around)
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
    return placed(tokens, (at, at + (5 if full else 3)), (day, month, year), around)


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
    return placed(tokens, (at, i), (day, month, year + 2000 if year < 100 else year), around)
