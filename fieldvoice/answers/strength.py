"""Strength: frames, seams and words as last told, each with its age, and who asks for room."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.answers.answer import NOT_LOOKED, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive, says
from fieldvoice.answers.comb import bees_on
from fieldvoice.answers.equipment import supers_on
from fieldvoice.logbook.register import Hive
from fieldvoice.plain import value_text
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact

SEEN = ("seen", "past", "done")
UNITS = ("frame", "seam", "box")


def strength(ask: Ask) -> Answer:
    """Each hive's bees as last told; frames, seams and boxes are not turned into each other."""
    rows = ask.read("population", statuses=SEEN, days=120)
    boxes = ask.read("equipment", "harvest", days=366)
    full = ask.read("stores", statuses=("seen",), days=60)
    known = ask.hives()
    own, gear, stored = by_hive(rows, known), by_hive(boxes, known), by_hive(full, known)
    table = [_line(ask, hive, own[hive.id], gear[hive.id], stored[hive.id]) for hive in known]
    return Answer(
        f"Strength as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "bees on", "before", "words", "told on", "days ago", "bees, from", "to",
         "supers known", "room"),
        tuple(table), (*rows, *full),
        ("Bees from frames: 1,400 to 3,000 on a deep frame (Simpson 1969; calibrated photographs). "
         "Compare frames with frames, not bees.",),
        tuple(hive.label for hive in known if not own[hive.id]),
    )  # fmt: skip


def counted(rows: Sequence[Fact]) -> list[Fact]:
    """Rows that count frames, seams or boxes of bees."""
    return [row for row in rows if row.kind == "population" and _size(row) is not None]


def frames_of(row: Fact) -> tuple[float, float] | None:
    """Frames of bees a row counts, None if it counts seams, boxes or nothing."""
    value = row.value("count", "frame")
    return (value.lo, value.hi) if value else None


def _size(row: Fact) -> str | None:
    for unit in UNITS:
        value = row.value("count", unit)
        if value is not None:
            return value_text(value)
    return None


def _line(
    ask: Ask, hive: Hive, rows: Sequence[Fact], gear: Sequence[Fact], stored: Sequence[Fact]
) -> tuple[Cell, ...]:
    sized = counted(rows)
    last = sized[-1] if sized else None
    before = next((r for r in reversed(sized) if last and r.day < last.day), None)
    worded = [row for row in rows if row.details.get("condition") and row.item != "temper"]
    words = worded[-1] if worded else None
    newest = max((r for r in (words, last) if r), key=lambda r: r.day, default=None)
    frames = frames_of(last) if last else None
    low, high = bees_on(frames) if frames else (None, None)
    return (
        hive.label, hive.yard,
        _size(last) if last else NOT_LOOKED,
        f"{_size(before)} on {before.day}" if before else None,
        words.details["condition"] if words else None,
        newest.day if newest else None,
        (ask.last() - newest.day).days if newest else None,
        low, high, supers_on(gear, ask.last()), _room(rows, stored),
    )  # fmt: skip


def _room(rows: Sequence[Fact], stored: Sequence[Fact]) -> str | None:
    """What in the last days says that the hive is full; None if nothing does."""
    words = trade_file("traits")["room"]
    asks = [row for row in rows if says(row, tuple(words["bees"]))]
    for row in stored:
        share = row.value("share")
        filled = share is not None and share.lo >= words["share"]
        if row.item in ("super", "honey super") and (filled or says(row, tuple(words["super"]))):
            asks.append(row)
    if not asks:
        return None
    newest = max(asks, key=lambda row: row.day)
    return f"full on {newest.day}: {newest.details.get('condition') or newest.item}"
