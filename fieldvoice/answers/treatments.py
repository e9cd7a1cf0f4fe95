"""Treatments: when on, when due out, which are still in; whether supers may go on; the effect."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from fieldvoice.answers.answer import UNKNOWN, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.courses import (
    REMINDER,
    Course,
    courses,
    too_warm_or_cold,
    waits_until,
)
from fieldvoice.answers.equipment import supers_on
from fieldvoice.answers.feed import last_feed
from fieldvoice.answers.mites import Count, counts
from fieldvoice.answers.sampling import drop
from fieldvoice.answers.units import to_celsius
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact

NO_LABEL = "no label record: window unknown"


def treatments(ask: Ask) -> Answer:
    """Each course with its window out by the label record, and what stands against it."""
    known = ask.hives()
    found, rows = courses(ask, known)
    warm = _temperatures(ask)
    boxes = by_hive(ask.read("equipment", "harvest"), known)
    table = []
    for course in found:
        supers = supers_on(boxes[course.hive.id], course.start.on)
        table.append(_line(ask, course, warm, supers))
    table.sort(key=lambda line: (_urgency(str(line[6])), str(line[4] or "")))
    planned = ask.read("treatment", statuses=["planned"], days=120)
    notes = []
    if any(c.label is None for c in found):
        notes.append("Type the label in once with `fieldvoice label add` to get its window.")
    if planned:
        notes.append(f"{len(planned)} treatments are planned; see `fieldvoice due`.")
    treated = {course.hive.id for course in found}
    return Answer(
        f"Treatments as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "what", "in", "due out", "out", "state", "look at"),
        tuple(table), rows, (*notes, REMINDER),
        tuple(hive.label for hive in known if hive.id not in treated),
    )  # fmt: skip


def state_of(course: Course, today: date) -> str:
    """Whether a course is out, in, due or overdue on that day."""
    if course.end is not None:
        return "out"
    if not course.stays_in:
        return "given at once"
    window = course.window
    if window is None:
        return f"in, {NO_LABEL}"
    if window.late(today) > 0:
        return f"overdue by {window.late(today)} days"
    return "due out now" if today >= window.first else "in"


def _line(
    ask: Ask, course: Course, warm: dict[tuple[str, date], float], supers: int | None
) -> tuple[Cell, ...]:
    window = course.window
    look = [too_warm_or_cold(course, warm)]
    if course.label is not None and course.label.supers == "off" and supers:
        look.append("supers were on, label record says off")
    if window and course.end and course.end.on and course.end.on < window.first:
        look.append("out before the label record's days")
    return (
        course.hive.label, course.hive.yard, _what(course.start), course.start.on or UNKNOWN,
        f"{window.first} to {window.last}" if window and course.stays_in else None,
        (course.end.on or UNKNOWN) if course.end else None,
        state_of(course, ask.last()),
        "; ".join(filter(None, look)) or None,
    )  # fmt: skip


def _what(row: Fact) -> str:
    method = row.details.get("method")
    return f"{row.item}, {method}" if method else row.item


def _urgency(state: str) -> int:
    return next((n for n, word in enumerate(("overdue", "due", "in")) if state.startswith(word)), 9)


def _temperatures(ask: Ask) -> dict[tuple[str, date], float]:
    """The highest temperature spoken of, in Celsius, by yard and day."""
    found: dict[tuple[str, date], float] = {}
    which = Ask(ask.logbook, ask.today, ask.settings, ask.since, ask.until, ask.yard)
    for row in which.read("weather", items=["temperature"], days=400):
        value = row.value("temperature")
        if value is not None and value.unit in ("degF", "degC"):
            degrees = to_celsius(value.hi, value.unit)
            key = (row.yard, row.day)
            found[key] = max(degrees, found.get(key, degrees))
    return found


def supers(ask: Ask) -> Answer:
    """Whether something in the log stands against supers or a harvest, hive by hive."""
    known = ask.hives()
    found, rows = courses(ask, known)
    fed = ask.read("feed", actions=["give", "add"], statuses=["done", "past"], days=90)
    feeds = by_hive(fed, known)
    mine: dict[int, list[Course]] = defaultdict(list)
    for course in found:
        mine[course.hive.id].append(course)
    table: list[tuple[Cell, ...]] = []
    for hive in known:
        against = [line for course in mine[hive.id] if (line := _against(course, ask.last()))]
        limit = trade_file("thresholds")["feed"]["days_before_harvest"]
        last = last_feed(feeds[hive.id])
        if last is not None and (ask.last() - last).days < limit:
            against.append(f"fed on {last}, less than {limit} days ago (common practice)")
        sure = [line for line in against if not line.startswith("unknown")]
        state = "no" if sure else UNKNOWN if against else "nothing in the log against it"
        table.append((hive.label, hive.yard, state, "; ".join(against) or None))
    return Answer(
        f"Supers on, or honey off, on {ask.last()}: {ask.place()}",
        ("hive", "yard", "state", "because"), tuple(table), (*rows, *fed),
        ("The log knows only what was said and confirmed.", REMINDER),
    )  # fmt: skip


def _against(course: Course, day: date) -> str | None:
    """Why a course stands against supers on that day; None if it does not."""
    what = f"{_what(course.start)} of {course.start.on or 'a day not said'}"
    if course.start.on is None:
        return f"unknown: {what}"
    if course.start.on > day:
        return None
    label = course.label
    if course.open_on(day):
        if label is None:
            return f"unknown: {what} is in, no label record"
        if label.supers == "allowed":
            return None
        if label.supers == "off":
            return f"{what} is in, label record says supers off"
        return f"unknown: {what} is in, label record says nothing of supers"
    if label is None:
        recent = (day - (course.out_on() or course.start.on)).days <= 90
        return f"unknown: {what}, no label record" if recent else None
    until = waits_until(course)
    if until is not None and day < until:
        return f"not before {until}: {what}, by the label record"
    return None


def effect(ask: Ask) -> Answer:
    """Mites before and after each course, and by how many percent they fell."""
    known = ask.hives()
    found, rows = courses(ask, known)
    counted = ask.read("mites", statuses=["done", "past"], days=430)
    washes = by_hive(counted, known)
    table: list[tuple[Cell, ...]] = []
    for course in found:
        table.append(_effect(course, counts(washes[course.hive.id])))
    return Answer(
        f"What came of treatments, {ask.first()} to {ask.last()}, {ask.place()}",
        ("hive", "yard", "what", "in", "out", "before", "after", "fell by, %", "95 %", "look at"),
        tuple(table), (*rows, *counted),
        ("Before and after are mites per 100 bees of the nearest washes; the interval takes bees "
         "as independent and does not know what the mites would have done untreated.", REMINDER),
    )  # fmt: skip


def _effect(course: Course, washes: list[Count]) -> tuple[Cell, ...]:
    limits = trade_file("thresholds")["effect"]
    start, out = course.start.on, course.out_on()
    head = (
        course.hive.label, course.hive.yard, _what(course.start), start or UNKNOWN,
        out or ("still in" if course.end is None else UNKNOWN),
    )  # fmt: skip
    if start is None or out is None:
        return (*head, None, None, None, None, "not over yet" if start else "day not said")
    dated = [w for w in washes if w.bees and w.mites is not None and w.row.on]
    before = [
        w for w in dated if w.row.on and 0 <= (start - w.row.on).days <= limits["before_days"]
    ]
    after = [w for w in dated if w.row.on and w.row.on > out]
    if not before or not after:
        missing = " and ".join(
            name for name, there in (("before", before), ("after", after)) if not there
        )
        rates = (before[-1].rate if before else None, after[0].rate if after else None)
        return (*head, *rates, None, None, f"no wash {missing}")
    first, last = before[-1], after[0]
    fell = drop((first.mites or 0, first.bees or 1), (last.mites or 0, last.bees or 1))
    soon = last.row.on and (last.row.on - out).days < limits["soon_days"]
    look = f"washed less than {limits['soon_days']} days after" if soon else None
    if fell is None:
        return (*head, first.rate, last.rate, None, None, "no mites before")
    return (*head, first.rate, last.rate, fell[0], f"{fell[1]:.0f} to {fell[2]:.0f}", look)
