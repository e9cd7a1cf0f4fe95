"""Queens: eggs and queen last seen, the mark and what it suggests, and how brood dates stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fieldvoice.answers.answer import NONE_SEEN, NOT_LOOKED, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive, matches
from fieldvoice.answers.calendars import Window, window_after, years_of
from fieldvoice.logbook.register import Hive
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact

YOUNG = ("egg", "larva")
LAYING = ("laying", "laid")


@dataclass(frozen=True, slots=True)
class Signs:
    """What a hive's rows tell of its queen, the newest of each; None: nobody said."""

    eggs: Fact | None  # eggs seen
    no_eggs: Fact | None  # looked for, not there
    queen: Fact | None
    no_queen: Fact | None
    mark: Fact | None  # a row that names her colour
    came: Fact | None  # she was put in

    @property
    def proof(self) -> date | None:
        """The last day that proves a queen: she or eggs were seen."""
        days = [row.day for row in (self.eggs, self.queen) if row]
        return max(days, default=None)


def signs(rows: Sequence[Fact]) -> Signs:
    """Read a hive's queen, brood and colony rows, oldest first."""
    newest: dict[str, Fact] = {}
    for row in rows:
        if row.kind == "brood" and row.item == "egg" and row.status in ("seen", "absent"):
            newest["eggs" if row.status == "seen" else "no_eggs"] = row
        elif row.kind == "queen" and row.item == "queen":
            _queen_row(row, newest)
        elif row.kind == "colony" and row.action == "requeen" and row.status in ("done", "past"):
            newest["came"] = row
            newest.pop("mark", None)
            if row.details.get("colour"):
                newest["mark"] = row
    return Signs(*(newest.get(name) for name in Signs.__slots__))


def _queen_row(row: Fact, newest: dict[str, Fact]) -> None:
    if row.status == "seen" or (row.action == "mark" and row.status == "done"):
        newest["queen"] = row
        if row.details.get("colour"):
            newest["mark"] = row
    elif row.status == "absent":
        newest["no_queen"] = row


def state_of(found: Signs, today: date) -> str:
    """What the signs say: "not seen" is not "queenless", and old proof is no proof.

    Eggs prove a laying queen within the days an egg stays one.
    """
    rules = trade_file("calendars")["signs"]
    if found.eggs is None and found.no_eggs is None and found.proof is None:
        return "not seen, eggs not looked for" if found.no_queen else NOT_LOOKED
    eggless = found.no_eggs.day if found.no_eggs else None
    if eggless and (found.proof is None or eggless > found.proof):
        return f"no eggs since {eggless}: not confirmed"
    if found.proof is None:
        return NOT_LOOKED
    days = (today - found.proof).days
    if days > rules["look_again_days"]:
        return f"last proof {days} days old: look again"
    return "eggs seen" if found.eggs and found.eggs.day == found.proof else "queen seen"


def queens(ask: Ask) -> Answer:
    """Each hive's queen: last eggs, last seen, state, mark, the year it suggests, her origin."""
    rows = ask.read("queen", "brood", "colony", statuses=["done", "seen", "absent", "past"])
    known = ask.hives()
    own = by_hive(rows, known)
    found = {hive.id: signs(own[hive.id]) for hive in known}
    table = [_line(ask, hive, found[hive.id]) for hive in known]
    table.sort(key=lambda line: str(line[5]) in ("eggs seen", "queen seen"))
    return Answer(
        f"Queens as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "eggs", "days ago", "queen", "state", "mark", "year", "came", "look at"),
        tuple(table), rows,
        ('"Not seen" is not queenless. Eggs mean that a queen laid within 3 days of that day; no '
         "eggs and no capped brood mean 21 days or more without one (day table of brood).",
         "A year from the colour is a suggestion: the code repeats every five years, and not "
         "everyone follows it."),
        tuple(hive.label for hive in known if state_of(found[hive.id], ask.last()) == NOT_LOOKED),
    )  # fmt: skip


def _line(ask: Ask, hive: Hive, found: Signs) -> tuple[Cell, ...]:
    today = ask.last()
    eggs = _seen(found.eggs, found.no_eggs)
    colour = found.mark.details.get("colour") if found.mark else None
    year = born(found, today)
    look = None
    if year is not None and today.year - year > trade_file("calendars")["signs"]["old_seasons"]:
        look = f"in season {today.year - year + 1}"
    return (
        hive.label, hive.yard, eggs,
        (today - found.eggs.day).days if found.eggs else None,
        _seen(found.queen, found.no_queen), state_of(found, today), colour, year,
        _came(found.came), look,
    )  # fmt: skip


def born(found: Signs, today: date) -> int | None:
    """The year she was most likely born: from the day she came, else from her colour."""
    if found.came is not None and found.came.on is not None:
        return found.came.on.year
    colour = found.mark.details.get("colour") if found.mark else None
    years = years_of(colour, today) if colour else ()
    return years[0] if years else None


def _seen(there: Fact | None, absent: Fact | None) -> str:
    if there is None and absent is None:
        return NOT_LOOKED
    if absent is not None and (there is None or absent.day > there.day):
        return f"{NONE_SEEN} {absent.day}"
    return f"seen {there.day}" if there else NOT_LOOKED


def _came(row: Fact | None) -> str | None:
    if row is None:
        return None
    source = row.details.get("source_hive") or row.details.get("source")
    return f"{row.on or 'day not said'}{f', from {source}' if source else ''}"


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected in a hive after a split, a cell or a new queen."""

    hive: str
    yard: str
    start: Fact
    name: str
    emerges: Window
    eggs: Window


def expected(rows: Sequence[Fact]) -> list[Expected]:
    """Every split, cell, graft, virgin and new queen among rows, with its windows.

    A split is expected to raise its queen in the new hive, where a row names one.
    """
    found = []
    for row in rows:
        if row.on is None or row.hive is None:
            continue
        for rule in trade_file("calendars")["start"]:
            if matches(row, rule["rows"]):
                hive = row.details.get("target_hive") if row.action == "split" else None
                found.append(
                    Expected(
                        hive or row.hive, row.yard, row, rule["name"],
                        window_after("emerges", row.on, rule["emerges"], rule["source"]),
                        window_after("eggs", row.on, rule["eggs"], rule["source"]),
                    )
                )  # fmt: skip
                break
    return found


def splits(ask: Ask) -> Answer:
    """Splits, cells and new queens: when she emerges, when to look for eggs, whether late."""
    rows = ask.read("colony", "queen", days=120, mentions=True)
    seen = ask.read("brood", "queen", statuses=["seen", "absent"], days=120)
    table: list[tuple[Cell, ...]] = []
    for one in expected(rows):
        own = [
            r for r in seen if r.hive == one.hive and r.yard == one.yard and r.day > one.start.day
        ]
        eggs = next((r for r in own if r.item == "egg" and r.status == "seen"), None)
        table.append(
            (
                one.hive, one.yard, one.name, one.start.on,
                f"{one.emerges.first} to {one.emerges.last}",
                f"{one.eggs.first} to {one.eggs.last}",
                _schedule(one, own, eggs, ask.last()),
            )
        )  # fmt: skip
    sources = sorted({one.eggs.source for one in expected(rows)})
    return Answer(
        f"Splits, cells and new queens as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "what", "on", "emerges", "look for eggs", "state"),
        tuple(table), (*rows, *seen),
        ("A split is expected to raise its queen in the new hive; look at both if it is not sure "
         "where she stayed.", *(f"Source: {source}." for source in sources)),
    )  # fmt: skip


def _schedule(one: Expected, own: Sequence[Fact], eggs: Fact | None, today: date) -> str:
    if eggs is not None:
        return f"eggs seen {eggs.day}"
    if one.eggs.late(today) > 0:
        looked = any(
            r.item == "egg" and r.status == "absent" and r.day >= one.eggs.first for r in own
        )
        late = f"{one.eggs.late(today)} days"
        return f"no eggs seen, {late} late" if looked else f"not looked, {late} late"
    if today >= one.eggs.first:
        return "look for eggs now"
    return "leave her alone" if today > one.emerges.first else "not yet"
