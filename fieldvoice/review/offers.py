"""What else a row may have been meant to say, each one digit away.

A doubt is settled fastest by choosing: the hives spoken of nearby, what the recogniser might
have heard instead, which of two numbers, what else may have become of it. Only what the row
and the recording hold is offered; what none of it fits is typed.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from fieldvoice.plain import value_text
from fieldvoice.review.fields import field_text, set_field
from fieldvoice.review.vocabulary import counted_in, things, units, with_role
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Doubt, Draft, Entry, Register, Value

Numbers = Callable[[str], Sequence[float]]
"""The numbers that words say: "two" and "2" are 2."""

MOST_HIVES = 6  # three digits are left for what is not a hive
DIGITS = "123456789"
_IN_WORDS = {"absent": "not there", "past": "before this visit", "skipped": "not, on purpose"}
_DAY = re.compile(r"\b(?P<how>on|by) the (?P<day>\d{1,2})(?:st|nd|rd|th)?\b(?! of)")
_NUMBER_FLAGS = {"unsure-number", "out-of-range", "heard-unsurely", "corrected", "unit-assumed"}


@dataclass(frozen=True, slots=True)
class Offer:
    """One other reading of a row, with the key that chooses it."""

    key: str  # a digit
    words: str  # what the button says
    fields: Mapping[str, str | Sequence[str]]  # what it changes, as it would be typed


class Nearby:
    """The hives of a recording by how near to a moment they were spoken of."""

    def __init__(self, drafts: Iterable[Draft], register: Register) -> None:
        places: dict[str, list[float]] = {}
        for draft in drafts:
            hive, start = draft.entry.hive, draft.entry.start
            if hive not in (None, "all") and start is not None:
                places.setdefault(str(hive), []).append(start)
        self._places = {label: sorted(starts) for label, starts in places.items()}
        self._order = {label: n for n, label in enumerate(register.labels)}
        few = register.labels if len(register.labels) <= MOST_HIVES else ()
        self._silent = [label for label in few if label not in self._places]

    def hives(self, entry: Entry) -> tuple[str, ...]:
        """The row's own and those spoken of nearest to it, in the order they are walked.

        In one order, so that a hive has the same digit from row to row.
        """
        at = entry.start or 0.0
        near = sorted(self._places, key=lambda label: _distance(self._places[label], at))
        own = [] if entry.hive in (None, "all") else [str(entry.hive)]
        chosen = list(dict.fromkeys([*own, *near, *self._silent]))[:MOST_HIVES]
        return tuple(sorted(chosen, key=lambda label: (self._order.get(label, 10**6), label)))


def _distance(starts: Sequence[float], at: float) -> float:
    place = bisect_left(starts, at)
    return min(abs(start - at) for start in starts[max(0, place - 1) : place + 1])


def hive_keys(labels: Sequence[str]) -> dict[str, str]:
    """A digit for each hive, one that is in its label where that can be.

    >>> hive_keys(["21", "24", "nuc 1", "4"])
    {'4': '4', '21': '1', '24': '2', 'nuc 1': '3'}
    """
    keys = {label: label for label in labels if label in DIGITS and len(label) == 1}
    for label in labels:
        if label in keys:
            continue
        own = [c for c in reversed(label) if c in DIGITS]
        free = next((c for c in (*own, *DIGITS) if c not in keys.values()), None)
        if free:
            keys[label] = free
    return keys


def offers_of(
    entry: Entry,
    flags: Sequence[str],
    doubts: Iterable[Doubt],
    numbers: Numbers,
    hives: Mapping[str, str],
) -> tuple[Offer, ...]:
    """Other readings of a doubtful row but for those `hives`, on digits that these do not have."""
    readings: list[tuple[str, Mapping[str, str | Sequence[str]]]] = [
        *_recapped(entry, numbers, hives)
    ]
    others = [*_counted_otherwise(entry)]
    if _NUMBER_FLAGS & set(flags):
        others += _other_numbers(entry, doubts, numbers)
    readings += [(words, {"values": _texts(entry, values)}) for words, values in others]
    readings += _other_days(entry, flags)
    if "unsure-status" in flags:
        usual = trade_file("kinds")["statuses"]["see" if entry.action == "see" else "other"]
        readings += [
            (_IN_WORDS.get(status, status), {"status": status})
            for status in usual
            if status != entry.status
        ]
    kind = things().get(entry.item, entry.kind)
    if "unsure-kind" in flags and kind != entry.kind:
        readings.append((kind, {"kind": kind}))
    free = [digit for digit in DIGITS if digit not in hives.values()]
    return tuple(Offer(key, *reading) for key, reading in zip(free, readings, strict=False))


def _recapped(
    entry: Entry, numbers: Numbers, hives: Mapping[str, str]
) -> Iterable[tuple[str, Mapping[str, str | Sequence[str]]]]:
    """What a later recap said instead: "eight: two pounds" after one pound on eight, or on four."""
    hive, _, amount = entry.details.get("recap", "").partition(":")
    said, named = numbers(amount), numbers(hive)
    single = [value for value in entry.values if value.lo == value.hi and value.role != "ratio"]
    if len(said) == 1 and len(single) == 1 and single[0].lo != said[0]:
        words, values = _put(entry.values, single[0], said[0])
        yield words, {"values": _texts(entry, values)}
    elif len(named) == 1 and (label := f"{named[0]:g}") != entry.hive and label not in hives:
        yield f"hive {label}", {"hive": label}


def _other_days(entry: Entry, flags: Sequence[str]) -> list[tuple[str, Mapping[str, str]]]:
    """No day where one is in doubt; one by its number that the words name and the row has not."""
    if entry.when is not None:
        unsure = not {"unsure-date", "date-unsure"}.isdisjoint(flags)
        return [("no other day", {"when": ""})] if unsure else []
    found = _DAY.search(entry.quote.lower())
    if found is None or entry.status == "past":
        return []
    day = f"{'by ' if found['how'] == 'by' else ''}{found['day']}"
    ahead = {"status": "planned"} if entry.status in ("done", "seen") else {}
    return [(f"{found['how']} the {found['day']}", {"when": day} | ahead)]


def _texts(entry: Entry, values: Sequence[Value]) -> list[str]:
    return [field_text(replace(entry, values=(value,)), "values") for value in values]


def _other_numbers(
    entry: Entry, doubts: Iterable[Doubt], numbers: Numbers
) -> list[tuple[str, tuple[Value, ...]]]:
    """Each other set of numbers, with words for it, none twice."""
    found: dict[tuple[Value, ...], str] = {}
    for words, values in (
        *_one_of_two(entry.values),
        *_heard_otherwise(entry, doubts, numbers),
        *_sounding_alike(entry.values),
        *(_without(value, entry.values) for value in entry.values if len(entry.values) == 1),
    ):
        if values != entry.values:
            found.setdefault(values, words)
    return [(words, values) for values, words in found.items()]


def _one_of_two(values: Sequence[Value]) -> Iterable[tuple[str, tuple[Value, ...]]]:
    """Two numbers of one sort: the later, the earlier, or "six to four" for sixty-four."""
    for one, other in pairwise(sorted(values, key=_sort)):
        if _sort(one) != _sort(other):
            continue
        for kept, gone in ((other, one), (one, other)):
            rest = list(values)
            rest.remove(gone)
            yield f"only {value_text(kept)}", tuple(rest)
        if 2 <= one.lo <= 9 and 1 <= other.hi <= 9 and one.lo == one.hi and other.lo == other.hi:
            joined = replace(one, lo=10 * one.lo + other.lo, hi=10 * one.lo + other.lo)
            rest = [joined if value is one else value for value in values if value is not other]
            yield value_text(joined), tuple(rest)


def _without(gone: Value, values: Sequence[Value]) -> tuple[str, tuple[Value, ...]]:
    return f"without {value_text(gone)}", tuple(value for value in values if value is not gone)


def _counted_otherwise(entry: Entry) -> Iterable[tuple[str, tuple[Value, ...]]]:
    """A count of what is no word of the trade was of the row's own thing: "one medium super"."""
    for value in entry.values:
        unit = value.unit or ""
        known = {*units(), *units().values(), *things(), entry.item, "1", ""}
        if value.role == "count" and unit not in known and counted_in(unit) is None:
            new = replace(value, unit=entry.item)
            yield value_text(new), tuple(new if one is value else one for one in entry.values)


def _sort(value: Value) -> tuple[str, str]:
    return value.role, value.unit or ""


def _heard_otherwise(
    entry: Entry, doubts: Iterable[Doubt], numbers: Numbers
) -> Iterable[tuple[str, tuple[Value, ...]]]:
    """What the recogniser might have heard instead, where that is a number."""
    for doubt in doubts:
        was = numbers(doubt.heard)
        for reading in doubt.readings:
            said = numbers(reading.text)
            if len(said) != 1 or said == was:
                continue
            value = next((v for v in entry.values if v.lo == v.hi and [v.lo] == list(was)), None)
            if value is not None:
                yield _put(entry.values, value, said[0])
            elif not was and (unit := counted_in(entry.quote)):
                typed = with_role(f"{said[0]:g} {unit}", None)
                (value,) = set_field(entry, "values", typed, date.min).values
                if _sort(value) not in map(_sort, entry.values):
                    yield value_text(value), (*entry.values, value)


def _sounding_alike(values: Sequence[Value]) -> Iterable[tuple[str, tuple[Value, ...]]]:
    """Fifteen for fifty, fifty for fifteen."""
    for value in values:
        tens, ones = divmod(value.lo, 10)
        if value.lo != value.hi or value.role == "ratio":
            continue
        if tens == 1 and 3 <= ones <= 9:
            yield _put(values, value, ones * 10)
        elif 3 <= tens <= 9 and ones == 0:
            yield _put(values, value, 10 + tens)


def _put(values: Sequence[Value], old: Value, number: float) -> tuple[str, tuple[Value, ...]]:
    new = replace(old, lo=number, hi=number)
    return value_text(new), tuple(new if value is old else value for value in values)


def doubts_of(entry: Entry, doubts: Sequence[Doubt]) -> Sequence[Doubt]:
    """The doubts about a row's own words; `doubts` are in the order of time."""
    if entry.start is None or entry.end is None:
        return ()
    start, end = entry.start, entry.end
    return [doubt for doubt in doubts if doubt.start < end and start < doubt.end]
