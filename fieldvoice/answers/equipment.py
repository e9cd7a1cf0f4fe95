"""What is on a hive: equipment added and removed, told again from the first row of the log."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from fieldvoice.answers.answer import Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.logbook.register import Hive
from fieldvoice.types import Fact

WORK = ("done", "past")


@dataclass(slots=True)
class Piece:
    """One kind of thing on a hive, as the rows tell it."""

    on: float | None = None  # how many the log knows to be there; None: nobody said
    before: bool = False  # more was taken off than the log saw put on
    uncounted: int = 0  # put on or taken off without a number
    last: Fact | None = None
    condition: str = ""


def equipment(ask: Ask) -> Answer:
    """What was put on each hive less what was taken off, and the last word on its state."""
    rows = ask.read("equipment", "harvest", days=5 * 366)
    known = ask.hives()
    own = by_hive(rows, known)
    table: list[tuple[Cell, ...]] = []
    for hive in known:
        for item, piece in sorted(replay(own[hive.id]).items()):
            table.append(_line(hive, item, piece))
    return Answer(
        f"Equipment on {ask.place()}, as of {ask.last()}",
        ("hive", "yard", "item", "on", "known by", "last change", "state"),
        tuple(table), rows,
        ("What was there before the first row of the log is not known: a hive's own boxes and "
         "floor need not be in this list.",),
        tuple(hive.label for hive in known if not own[hive.id]),
    )  # fmt: skip


def replay(rows: Iterable[Fact]) -> dict[str, Piece]:
    """The rows of one hive, oldest first, as pieces; planned and skipped rows change nothing."""
    pieces: dict[str, Piece] = defaultdict(Piece)
    for row in rows:
        if row.kind == "harvest":
            if row.status in WORK and (taken := row.value("count", "super")):
                _change(pieces["super"], row, -taken.lo)
            continue
        if row.kind != "equipment":
            continue
        piece = pieces[row.item]
        if row.action in ("add", "remove") and row.status in WORK:
            count = row.value("count")
            sign = 1 if row.action == "add" else -1
            said = count.lo if count and count.lo == count.hi else None
            _change(piece, row, sign * (said if said is not None else 1), guessed=said is None)
        elif row.action in ("replace", "repair", "clean") and row.status in WORK:
            piece.last = row
            piece.condition = {"replace": "new", "repair": "repaired", "clean": ""}[row.action]
        elif row.action in ("reduce", "close", "open") and row.status in WORK:
            piece.last = row
            piece.condition = {"reduce": "reduced", "close": "closed", "open": "open"}[row.action]
        elif row.status == "seen":
            piece.last = row
            piece.condition = row.details.get("condition", piece.condition)
        elif row.status == "absent":
            piece.last = row
            piece.on = 0
            piece.condition = "none seen"
    return pieces


def supers_on(rows: Sequence[Fact], day: date | None) -> int | None:
    """Supers that the log knows to be on at the end of that day; None if it knows of none."""
    before = [row for row in rows if day is None or (row.on is not None and row.on <= day)]
    piece = replay(before).get("super")
    return None if piece is None or piece.on is None else round(piece.on)


def _change(piece: Piece, row: Fact, by: float, *, guessed: bool = False) -> None:
    """A thing put on without a number is at least one of it."""
    piece.last = row
    piece.uncounted += guessed
    piece.on = (piece.on or 0) + by
    if piece.on < 0:  # it was there before the log began
        piece.before, piece.on = True, 0
    piece.condition = "" if by > 0 else piece.condition


def _line(hive: Hive, item: str, piece: Piece) -> tuple[Cell, ...]:
    known = []
    if piece.on is None:
        known.append("spoken of, never counted")
    if piece.before:
        known.append("some were there before the log")
    if piece.uncounted:
        known.append("number not said, taken as one each time")
    return (
        hive.label, hive.yard, item, None if piece.on is None else round(piece.on),
        "; ".join(known) or "put on and taken off",
        piece.last.day if piece.last else None, piece.condition or None,
    )  # fmt: skip
