"""An invented year of two yards and forty hives, as rows of the log: python demo/season.py FILE

Nothing of it happened and nobody said it. The seed is fixed, so it is the same every time;
the answers to the keeper's questions can be worked out from it by hand.
"""

from __future__ import annotations

import hashlib
import random
import sys
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, timezone
from pathlib import Path
from typing import Any

from fieldvoice.logbook.drafts import save_step
from fieldvoice.logbook.opening import open_logbook, writing
from fieldvoice.logbook.recordings import keep_heard
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.types import (
    Change,
    Draft,
    Entry,
    RecordedAt,
    Recording,
    Step,
    Transcript,
    Value,
    When,
)

SEED = 2025
PLACE = timezone(timedelta(hours=-4))
YARDS = {
    "orchard": [str(n) for n in range(1, 20)] + ["nuc 1"],
    "ridge": [str(n) for n in range(21, 40)] + ["nuc 2"],
}
FIRST, LAST = date(2025, 3, 18), date(2026, 3, 17)
_NAMES = uuid.UUID("8d0c2a52-6a0e-5c57-9f4b-2f5f7a3a9d10")
MADE = {"nuc 1": date(2025, 5, 13), "nuc 2": date(2025, 5, 20)}  # the day they were made


@dataclass(frozen=True)
class Visit:
    """One recording: a day at a yard and what was said there, row by row."""

    at: datetime
    yard: str
    entries: tuple[Entry, ...]


@dataclass
class Hive:
    """What the inventor knows of a colony."""

    label: str
    yard: str
    frames: float
    mites: float  # per 100
    supers: int = 0
    laying: bool = True
    alive: bool = True
    honey: float = 30.0
    rows: list[Entry] = field(default_factory=list)


def row(hive: str | None, kind: str, action: str, item: str, status: str = "done",
        *values: Value, when: When | None = None, quote: str = "", **details: str) -> Entry:  # fmt: skip
    """An entry as short as it can be written."""
    words = quote or f"{hive or 'yard'}: {action} {item}"
    return Entry(hive, kind, action, item, status, values, when, details, words, None, None, 1.0)


def number(role: str, low: float, unit: str | None = None, high: float | None = None) -> Value:
    """A value; a range if `high` is given."""
    return Value(role, low, low if high is None else high, unit, high is not None, f"{low:g}")


def day_of(text: str) -> When:
    """One day."""
    return When(date.fromisoformat(text), date.fromisoformat(text))


def visit_days() -> Iterator[tuple[date, str]]:
    """Weekly in the season, every other week in autumn, monthly in winter; two yards."""
    for offset, yard in enumerate(YARDS):
        day = FIRST + timedelta(days=offset)
        while day <= LAST:
            yield day, yard
            step = 7 if 4 <= day.month <= 7 else 14 if day.month in (3, 8, 9, 10) else 28
            day += timedelta(days=step)


def season(seed: int = SEED) -> tuple[Visit, ...]:
    """The year, oldest visit first."""
    chance = random.Random(seed)
    hives = {
        label: Hive(label, yard, chance.randint(4, 7), chance.uniform(0.2, 1.0))
        for yard, labels in YARDS.items()
        for label in labels
    }
    visits = []
    for day, yard in sorted(visit_days()):
        entries = list(weather(day, chance))
        for hive in hives.values():
            made = MADE.get(hive.label, FIRST)
            if hive.yard == yard and hive.alive and day >= made:
                entries += told(hive, day, chance)
        entries += planned(day, yard)
        at = datetime.combine(day, time(10, 15), PLACE)
        visits.append(Visit(at, yard, tuple(entries)))
    return tuple(visits)


def weather(day: date, chance: random.Random) -> Iterator[Entry]:
    """Temperature and sky."""
    warm = {1: 34, 2: 36, 3: 48, 4: 58, 5: 66, 6: 76, 7: 84, 8: 82, 9: 74, 10: 60, 11: 46, 12: 38}
    degrees = warm[day.month] + chance.randint(-5, 5)
    yield row(None, "weather", "see", "temperature", "seen", number("temperature", degrees, "degF"))
    yield row(None, "weather", "see", "sky", "seen", condition=chance.choice(["sunny", "overcast"]))


def told(hive: Hive, day: date, chance: random.Random) -> Iterator[Entry]:
    """What is said of one hive on one day."""
    name = hive.label
    yield from script(hive, day)
    if not hive.alive:
        return
    if 4 <= day.month <= 10 and chance.random() < 0.75:
        yield from inspected(hive, day, chance)
    elif day.month in (11, 12, 1, 2, 3):
        heft = "light" if chance.random() < 0.25 else "heavy"
        yield row(name, "stores", "see", "heft", "seen", condition=heft)
    if day.month in (5, 7, 8, 9) and chance.random() < 0.35:
        count = max(0, round(chance.gauss(hive.mites * 3, 1.5)))
        yield row(name, "mites", "sample", "mite", "done", number("count", count, "mite"),
                  number("sample", 0.5, "cup"))  # fmt: skip
    if day.month in (4, 5, 6, 7, 8):
        hive.mites *= 1.08
    yield from fed(hive, day, chance)


def inspected(hive: Hive, day: date, chance: random.Random) -> Iterator[Entry]:
    """Frames, brood, queen, now and then temper and cells."""
    name = hive.label
    hive.frames += chance.choice([0, 0.5, 1]) if day.month < 7 else chance.choice([0, -0.5])
    hive.frames = min(max(hive.frames, 2), 18)
    yield row(
        name, "population", "see", "bees", "seen", number("count", round(hive.frames), "frame")
    )
    if hive.laying:
        yield row(name, "brood", "see", "egg", "seen")
        if chance.random() < 0.4:
            colour = chance.choice(["blue", "green", "red"])
            yield row(name, "queen", "see", "queen", "seen", colour=colour)
    else:
        yield row(name, "brood", "see", "egg", "absent", quote="no eggs in there")
    if chance.random() < 0.1:
        temper = chance.choice(["calm", "testy", "hot"])
        yield row(name, "population", "see", "temper", "seen", condition=temper)
    if day.month in (5, 6) and chance.random() < 0.06:
        yield row(name, "queen", "see", "queen cell", "seen", number("count", 2, "cell"),
                  condition=chance.choice(["capped", "charged"]))  # fmt: skip
    if chance.random() < 0.08:
        pattern = chance.choice(["spotty", "solid"])
        yield row(name, "brood", "see", "brood pattern", "seen", condition=pattern)
    if day.month in (5, 6) and hive.frames >= 9 and hive.supers < 2 and chance.random() < 0.5:
        hive.supers += 1
        yield row(name, "equipment", "add", "super", "done", number("count", 1, "super"))
    if hive.supers and day.month in (6, 7) and chance.random() < 0.2:
        yield row(name, "stores", "see", "super", "seen", number("share", 0.75, "1"))
    if day.month in (9, 10) and chance.random() < 0.7:
        frames = chance.randint(2, 7)
        yield row(name, "stores", "see", "honey", "seen", number("count", frames, "frame"),
                  place="deep")  # fmt: skip


def fed(hive: Hive, day: date, chance: random.Random) -> Iterator[Entry]:
    """Thin syrup in spring, thick in autumn; some without amount, some without ratio."""
    name = hive.label
    spring, autumn = day.month == 4, day.month in (9, 10)
    if not (spring or autumn) or chance.random() > 0.4:
        return
    amount = number("amount", chance.choice([1, 2, 4]), "quart") if spring else number(
        "amount", chance.choice([0.5, 1, 1.5]), "gallon")  # fmt: skip
    ratio = number("ratio", 1 if spring else 2 if day.month == 10 else 1.5, "sugar:water")
    values = (amount, ratio)
    luck = chance.random()
    if luck < 0.1:
        values = (ratio,)  # "topped off"
    elif luck < 0.2:
        values = (amount,)  # the strength was not said
    yield row(name, "feed", "give", "syrup", "done", *values, feeder="top feeder")


def script(hive: Hive, day: date) -> Iterator[Entry]:
    """What has to happen, so that every question has something to answer."""
    for text, labels, entries in SCRIPT:
        if hive.label in labels and (text, hive.label) in _ON.get((day, hive.yard), ()):
            for entry in entries:
                _lived(hive, entry)
                yield Entry(hive.label, entry.kind, entry.action, entry.item, entry.status,
                            entry.values, entry.when, entry.details, entry.quote, None, None, 1.0)  # fmt: skip


def _lived(hive: Hive, entry: Entry) -> None:
    if entry.kind == "colony" and (entry.action == "combine" or entry.item == "dead colony"):
        hive.alive = False
    if entry.kind == "brood" and entry.item == "egg":
        hive.laying = entry.status == "seen"
    if entry.kind == "harvest" and entry.status == "done":
        hive.supers = 0
    if entry.kind == "treatment" and entry.action == "remove":
        hive.mites *= 0.15


ORCHARD = tuple(YARDS["orchard"][:19])
RIDGE = tuple(YARDS["ridge"][:19])
SCRIPT: tuple[tuple[str, tuple[str, ...], tuple[Entry, ...]], ...] = (
    ("2025-04-15", ("9",), (row("", "queen", "see", "queen", "absent", quote="didn't see her"),)),
    ("2025-05-13", ("7",), (
        row("", "colony", "split", "split", "done", number("count", 3, "frame"),
            target_hive="nuc 1", quote="three frames out of seven into nuc one"),)),
    ("2025-05-20", ("27",), (
        row("", "colony", "split", "split", "done", number("count", 4, "frame"),
            target_hive="nuc 2", quote="split twenty-seven into nuc two"),)),
    ("2025-05-13", ("nuc 1",), (row("", "brood", "see", "egg", "absent", quote="no eggs, only cells"),)),
    ("2025-06-10", ("nuc 1",), (row("", "brood", "see", "egg", "seen", quote="eggs in nuc one"),)),
    ("2025-05-20", ("nuc 2",), (row("", "brood", "see", "egg", "absent", quote="no eggs yet"),)),
    ("2025-05-27", ("12",), (
        row("", "colony", "requeen", "queen", "done", colour="blue", source_hive="3",
            quote="new queen in twelve, raised from three"),)),
    ("2025-06-24", ("26",), (
        row("", "health", "see", "foulbrood", "seen", condition="ropey",
            quote="sunken caps and it is ropey, I don't like this"),)),
    ("2025-07-22", ORCHARD[:12], (
        row("", "harvest", "harvest", "honey", "done", number("count", 1, "super"),
            number("weight", 28, "pound"), number("moisture", 17.4, "percent")),)),
    ("2025-07-22", ORCHARD[12:14], (
        row("", "harvest", "harvest", "honey", "done", number("count", 1, "super")),)),
    ("2025-07-22", RIDGE[:8], (
        row("", "harvest", "harvest", "honey", "done", number("count", 2, "super"),
            number("weight", 50, "pound", 60), number("moisture", 18.9, "percent")),)),
    ("2025-08-12", ORCHARD, (
        row("", "mites", "sample", "mite", "done", number("count", 12, "mite"),
            number("sample", 300, "bee")),
        row("", "treatment", "give", "amitraz strip", "done", number("count", 2, "strip")),)),
    ("2025-10-07", ORCHARD[:11] + ORCHARD[12:], (
        row("", "treatment", "remove", "amitraz strip", "done", number("count", 2, "strip")),)),
    ("2025-10-21", ORCHARD[:6], (
        row("", "mites", "sample", "mite", "done", number("count", 1, "mite"),
            number("sample", 300, "bee")),)),
    ("2025-09-03", RIDGE[:10], (
        row("", "treatment", "treat", "formic acid", "done", number("count", 2, "pad")),)),
    ("2025-09-17", RIDGE[:10], (
        row("", "treatment", "remove", "formic acid", "done", number("count", 2, "pad")),)),
    ("2025-10-21", ("9",), (
        row("", "brood", "see", "egg", "absent", quote="nothing in nine"),
        row("", "colony", "combine", "colony", "done", target_hive="10",
            quote="nine goes onto ten, paper between"),)),
    ("2025-10-21", ORCHARD[:8] + ORCHARD[9:15], (
        row("", "equipment", "add", "mouse guard", "done", number("count", 1, "mouse guard")),)),
    ("2025-11-04", ORCHARD[:5], (row("", "equipment", "add", "wrap", "done"),)),
    ("2026-01-01", ("18",), (
        row("", "colony", "see", "dead colony", "seen", condition="dead", reason="starved",
            quote="eighteen is dead, heads in the cells, starved"),)),
    ("2026-02-24", ("33",), (
        row("", "colony", "see", "dead colony", "seen", condition="dead",
            quote="thirty-three is gone, a handful of bees"),)),
    ("2025-08-05", ("14",), (
        row("", "equipment", "see", "bottom board", "seen", condition="rotten front edge"),
        row("", "equipment", "replace", "bottom board", "done"),)),
    ("2025-08-19", ("30",), (
        row("", "health", "see", "robbing", "seen", quote="they're robbing thirty"),
        row("", "equipment", "add", "robbing screen", "done"),)),
    ("2025-09-16", ("5",), (
        row("", "feed", "give", "syrup", "past", number("amount", 1, "gallon"),
            number("ratio", 2, "sugar:water"), when=day_of("2025-09-12"),
            quote="on Friday I gave five a gallon of two to one"),)),
    ("2025-06-17", ("3",), (
        row("", "colony", "move", "hive", "done", place="ridge",
            quote="moved three up to the ridge for the clover"),)),
)  # fmt: skip

PLANS: tuple[tuple[str, str, Entry], ...] = (
    ("2025-05-06", "orchard", row("7", "colony", "split", "split", "planned",
        when=day_of("2025-05-13"), quote="I'll split seven on Tuesday", **{"if": "the rain stays away"})),
    ("2025-05-06", "orchard", row(None, "supply", "get", "nuc box", "planned",
        number("count", 1, "nuc box"), quote="I need a nuc box")),
    ("2025-09-30", "orchard", row(None, "supply", "get", "sugar", "planned",
        number("amount", 100, "pound"), quote="a hundred pounds of sugar")),
    ("2025-09-30", "ridge", row(None, "supply", "get", "sugar", "planned",
        number("amount", 50, "pound"), quote="fifty pounds of sugar for the ridge")),
    ("2025-09-30", "orchard", row(None, "supply", "get", "smoker fuel", "planned",
        quote="smoker fuel")),
    ("2025-10-07", "orchard", row("5", "feed", "give", "syrup", "planned",
        number("amount", 1, "gallon"), number("ratio", 2, "sugar:water"),
        when=When(date(2025, 10, 13), date(2025, 10, 19)), quote="next week another gallon for five")),
    ("2025-10-07", "orchard", row("11", "feed", "give", "syrup", "planned", when=day_of("2025-10-21"),
        quote="feed eleven in two weeks")),
    ("2025-10-21", "orchard", row("all", "treatment", "treat", "oxalic acid", "planned",
        when=When(date(2025, 11, 1), date(2025, 11, 30)), quote="oxalic in November",
        **{"if": "they're broodless"})),
    ("2025-10-07", "ridge", row("24", "equipment", "replace", "bottom board", "planned",
        quote="twenty-four needs a new floor")),
)  # fmt: skip


def planned(day: date, yard: str) -> Iterator[Entry]:
    """Plans said at the visit nearest to their day."""
    for text, place, entry in PLANS:
        if place == yard and _nearest(date.fromisoformat(text), yard) == day:
            yield entry


def _nearest(wanted: date, yard: str) -> date:
    days = sorted(day for day, place in visit_days() if place == yard)
    return min(days, key=lambda day: (abs((day - wanted).days), day))


def _yard_of(label: str) -> str:
    return next(yard for yard, labels in YARDS.items() if label in labels)


def _script_days() -> dict[tuple[date, str], set[tuple[str, str]]]:
    """Which lines of the script are said on which day at which yard."""
    found: dict[tuple[date, str], set[tuple[str, str]]] = {}
    for text, labels, _ in SCRIPT:
        for label in labels:
            yard = _yard_of(label)
            day = max(_nearest(date.fromisoformat(text), yard), MADE.get(label, FIRST))
            found.setdefault((day, yard), set()).add((text, label))
    return found


def load(logbook: Any, visits: tuple[Visit, ...]) -> None:
    """Put the hives and all visits into a logbook, as if a keeper had confirmed each row."""
    start = datetime.combine(FIRST, time(8), PLACE)
    with writing(logbook):
        for yard, labels in YARDS.items():
            for label in labels:
                made = MADE.get(label)
                add_hive(
                    logbook, label, yard, datetime.combine(made, time(8), PLACE) if made else start
                )
        for visit in visits:
            keep_visit(logbook, visit)


def keep_visit(logbook: Any, visit: Visit) -> None:
    """One visit as a recording with confirmed rows; uuids follow from day and yard."""
    name = f"{visit.yard} {visit.at.isoformat()}"
    recording = Recording(
        str(uuid.uuid5(_NAMES, name)), hashlib.sha256(name.encode()).hexdigest(),
        f"invented/{name}.ogg", RecordedAt(visit.at, "option"), visit.yard, 600.0, "heard",
    )  # fmt: skip
    heard = keep_heard(logbook, recording, Transcript("", "en", "invented", "", 600.0), visit.at)
    changes = tuple(
        Change(
            None, Draft(str(uuid.uuid5(_NAMES, f"{name} {n}")), heard.uuid, 1, "confirmed", entry)
        )
        for n, entry in enumerate(visit.entries)
    )
    logbook.execute("UPDATE recordings SET stage = 'drafted' WHERE uuid = ?", [heard.uuid])
    save_step(logbook, Step(str(uuid.uuid5(_NAMES, f"{name} step")), visit.at, "write", changes))


_ON = _script_days()


def main() -> None:
    """Write the invented year into a new logbook."""
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    visits = season()
    with open_logbook(Path(sys.argv[1]), create=True) as logbook:
        load(logbook, visits)
    print(f"{len(visits)} visits, {sum(len(v.entries) for v in visits)} rows in {sys.argv[1]}")


if __name__ == "__main__":
    main()
