"""Courses of treatment: what went in, what came out, and what the label record says of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.calendars import Window, out_window
from fieldvoice.logbook.medicines import LabelRecord, labels, notes
from fieldvoice.logbook.register import Hive
from fieldvoice.types import Fact

REMINDER = "Check the label: it and your local rules decide, not this log."
DONE = ("done", "past")


@dataclass(frozen=True, slots=True)
class Course:
    """One treatment of one hive."""

    hive: Hive
    start: Fact
    end: Fact | None
    label: LabelRecord | None

    @property
    def window(self) -> Window | None:
        """The days on which it is to come out, by the label record; None if it says none."""
        if self.label is None or self.start.on is None or self.label.days_min is None:
            return None
        last = self.label.days_max if self.label.days_max is not None else self.label.days_min
        return out_window(self.start.on, (self.label.days_min, last))

    @property
    def stays_in(self) -> bool:
        """Whether something lies in the hive that has to come out again."""
        if self.label is not None and self.label.days_max is not None:
            return self.label.days_max > 0
        words = (self.start.item, *(v.unit or "" for v in self.start.values))
        return any(w.endswith(("strip", "pad", "wafer", "tray", "gel", "thymol")) for w in words)

    def open_on(self, day: date) -> bool:
        """Whether it is in the hive on that day, as far as the log tells."""
        if self.end is not None and (self.end.on is None or self.end.on <= day):
            return False
        return self.stays_in

    def out_on(self) -> date | None:
        """The day it was out: taken out, or given at once; None if still in or not known."""
        if self.end is not None:
            return self.end.on
        return None if self.stays_in else self.start.on


def courses(
    ask: Ask, known: Sequence[Hive], days: int = 400
) -> tuple[list[Course], tuple[Fact, ...]]:
    """The courses of these hives, oldest first, and the rows they rest on."""
    rows = ask.read("treatment", statuses=DONE, days=days)
    records, written = labels(ask.logbook), notes(ask.logbook)
    found: list[Course] = []
    own = by_hive(rows, known)
    for hive in known:
        starts = [r for r in own[hive.id] if r.action in ("give", "treat", "add")]
        ends = [r for r in own[hive.id] if r.action == "remove"]
        for start in starts:
            end = next((e for e in ends if _ends(start, e)), None)
            if end is not None:
                ends.remove(end)
            found.append(Course(hive, start, end, label_of(start, records, written)))
    return found, rows


def label_of(
    row: Fact, records: Sequence[LabelRecord], written: Mapping[str, Mapping[str, str]]
) -> LabelRecord | None:
    """The label record for a treatment row: by the product written down for it, else its word.

    Two products for one word of the log cannot be told apart: then there is none.
    """
    product = written.get(row.uuid, {}).get("product") or row.details.get("product")
    if product:
        return next((r for r in records if r.product.lower() == product.lower()), None)
    fitting = [r for r in records if same_thing(r.item, row.item)]
    method = row.details.get("method", "")
    formed = [r for r in fitting if r.form and r.form.lower() in method.lower()]
    fitting = formed or [r for r in fitting if not r.form] or fitting
    return fitting[0] if len(fitting) == 1 else None


def same_thing(one: str, other: str) -> bool:
    """Whether two names can be one thing: "strip" and "amitraz strip", not "amitraz" and "thymol".

    >>> same_thing("strip", "amitraz strip"), same_thing("oxalic acid", "formic acid")
    (True, False)
    """
    first, second = set(one.lower().split()), set(other.lower().split())
    return first <= second or second <= first


def too_warm_or_cold(course: Course, temperatures: Mapping[tuple[str, date], float]) -> str | None:
    """A caution where the temperature spoken of that day is outside the label record's."""
    if course.label is None or course.start.on is None:
        return None
    degrees = temperatures.get((course.start.yard, course.start.on))
    if degrees is None:
        return None
    low, high = course.label.low_c, course.label.high_c
    if high is not None and degrees > high:
        return f"{degrees:.0f} °C that day, label record says at most {high:g}"
    if low is not None and degrees < low:
        return f"{degrees:.0f} °C that day, label record says at least {low:g}"
    return None


def waits_until(course: Course) -> date | None:
    """The first day on which supers may be on again, by the label record."""
    out = course.out_on()
    if course.label is None or out is None:
        return None
    waits = (course.label.days_before_supers, course.label.withdrawal_days)
    days = max((n for n in waits if n is not None), default=0)
    return out + timedelta(days=days)


def _ends(start: Fact, end: Fact) -> bool:
    if start.on is None or end.on is None or end.on < start.on:
        return False
    units = {v.unit for v in (*start.values, *end.values) if v.unit}
    return same_thing(start.item, end.item) or end.item in units
