"""Colonies: how many in each yard on a day, moves, losses over winter, where each came from."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fieldvoice.answers.answer import UNKNOWN, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.mites import latest_count
from fieldvoice.answers.stores import told
from fieldvoice.answers.strength import counted
from fieldvoice.answers.visits import as_entry
from fieldvoice.logbook.asking import Which, facts
from fieldvoice.logbook.register import Hive, hives
from fieldvoice.logbook.register_days import RegisterDays, register_days
from fieldvoice.plain import entry_line, value_text
from fieldvoice.types import Fact

GONE = ("dead", "deadout", "dead out", "absconded", "died", "gone", "starved out")
HAPPENED = ("done", "past", "seen")


@dataclass(frozen=True, slots=True)
class End:
    """How a colony ended, as it was told."""

    day: date
    how: str  # "dead", "combined", "retired"
    row: Fact | None


def end_of(
    ask: Ask, hive: Hive, rows: Sequence[Fact], days: RegisterDays, until: date
) -> End | None:
    """A hive's end up to a day, from its colony rows; None while it lives.

    A later sign of life (bees or brood seen, a swarm or queen put in) takes it back.
    """
    ended: End | None = None
    for row in rows:
        if row.on is not None and row.on <= until:
            ended = _end(row) or (None if row.action in ("add", "requeen") else ended)
    if ended is not None and not _lived(ask, hive, ended.day, until):
        return ended
    if days.retired and days.retired <= until:
        return End(days.retired, "retired", None)
    return None


def _lived(ask: Ask, hive: Hive, after: date, until: date) -> bool:
    """Whether bees or brood were seen in it after that day."""
    which = Which(
        ("population", "brood"), statuses=("seen",), hive=hive, newest=1,
        since=after + timedelta(days=1), until=until,
    )  # fmt: skip
    return bool(facts(ask.logbook, which))


def _end(row: Fact) -> End | None:
    if row.action == "combine" and row.status in ("done", "past"):
        return End(row.on or row.day, "combined", row)
    dead = row.item in GONE or row.item == "dead colony"
    told_dead = row.details.get("condition", "").lower() in GONE
    if row.action == "see" and row.status in HAPPENED and (dead or told_dead):
        return End(row.on or row.day, "dead", row)
    return None


def colonies(ask: Ask) -> Answer:
    """Living colonies of each yard on the last day asked for, and the moves before it."""
    known = ask.hives(retired=True)
    rows = ask.read("colony", since=date.min)
    own, days = by_hive(rows, known), register_days(ask.logbook)
    living: dict[str, list[str]] = defaultdict(list)
    ended: dict[str, list[str]] = defaultdict(list)
    for hive in known:
        if not _began(own[hive.id], days[hive.id], ask.last()):
            continue
        end = end_of(ask, hive, own[hive.id], days[hive.id], ask.last())
        if end is None:
            living[hive.yard].append(hive.label)
        elif end.day >= ask.first():
            ended[hive.yard].append(f"{hive.label} {end.how} {end.day}")
    table = [
        (yard, len(living[yard]), ", ".join(living[yard]) or None, "; ".join(ended[yard]) or None)
        for yard in sorted({*living, *ended})
    ]
    moves = [
        row for row in rows
        if row.kind == "colony" and row.action == "move" and row.status in ("done", "past")
        and row.day >= ask.first()
    ]  # fmt: skip
    notes = [
        f"Moved {row.on or 'on a day not said'}: hive {row.hive}, "
        f"{row.details.get('place') or row.details.get('target_hive') or 'place not said'}."
        for row in moves
    ]
    return Answer(
        f"Colonies on {ask.last()}, {ask.place()}", ("yard", "colonies", "hives", "ended"),
        tuple(table), rows,
        (*notes, "A hive counts from the day it is in the register or in a row, until a row says "
         "that it is dead or was combined, or it is retired."),
    )  # fmt: skip


def losses(ask: Ask) -> Answer:
    """Colonies that died since 1 October, of those alive then, with the last word on each."""
    start = ask.since or _first_of_october(ask.last())
    known = ask.hives(retired=True)
    rows = ask.read("colony", since=date.min)
    own, days = by_hive(rows, known), register_days(ask.logbook)
    alive = [
        h for h in known
        if _began(own[h.id], days[h.id], start) and end_of(ask, h, own[h.id], days[h.id], start) is None
    ]  # fmt: skip
    table: list[tuple[Cell, ...]] = []
    dead = 0
    for hive in alive:
        end = end_of(ask, hive, own[hive.id], days[hive.id], ask.last())
        if end is None:
            continue
        dead += end.how == "dead"
        table.append(_loss(ask, hive, end))
    share = f" ({100 * dead / len(alive):.0f} %)" if alive else ""
    return Answer(
        f"Losses from {start} to {ask.last()}, {ask.place()}",
        ("hive", "yard", "day", "how", "words", "strength before", "stores before", "mites before"),
        tuple(table), rows,
        (f"{dead} of {len(alive)} colonies alive on {start} died{share}; combined and retired ones "
         "are listed, not counted.", "Words are the keeper's own; nothing here is a diagnosis."),
    )  # fmt: skip


def _loss(ask: Ask, hive: Hive, end: End) -> tuple[Cell, ...]:
    which = Which(("population", "stores", "mites"), hive=hive, until=end.day, newest=60)
    before = facts(ask.logbook, which)
    sized, full, count = counted(before), told(before), latest_count(before, end.day)
    value = sized[-1].value("count") if sized else None
    words = None
    if end.row is not None:
        words = end.row.details.get("reason") or end.row.quote or end.row.details.get("condition")
    return (
        hive.label, hive.yard, end.day, end.how, words,
        f"{value_text(value)}, {sized[-1].day}" if value else UNKNOWN,
        f"{full.how}, {full.row.day}" if full else UNKNOWN,
        f"{count.rate:.1f} per 100, {count.row.on}" if count and count.rate is not None else UNKNOWN,
    )  # fmt: skip


def lineage(ask: Ask) -> Answer:
    """Where a hive came from and what became of it: splits, queens, combines, swarms, moves."""
    rows = ask.read("colony", "queen", "brood", days=20 * 366, mentions=True)
    links = [row for row in rows if _links(row)]
    wanted = ask.hive.label if ask.hive else None
    names = [h for h in hives(ask.logbook, retired=True) if h.label == wanted]
    seen = {wanted} | {
        row.details[key] for row in links for key in ("target_hive", "source_hive")
        if key in row.details
    } | {row.hive for row in links}  # fmt: skip
    table = [
        (row.on or UNKNOWN, row.hive, entry_line(as_entry(row)), row.quote or None) for row in links
    ]
    notes = [
        f"Also known as {', '.join(hive.aliases)}, {hive.yard}." for hive in names if hive.aliases
    ]
    related = sorted(str(name) for name in seen - {wanted, None, "all"})
    if related:
        notes.append(f"Related hives: {', '.join(related)}; ask for them in turn.")
    return Answer(
        f"Where {ask.place()} came from and went", ("day", "hive", "what", "words"),
        tuple(table), tuple(links), tuple(notes),
    )  # fmt: skip


def _links(row: Fact) -> bool:
    if row.status not in HAPPENED:
        return False
    if row.kind == "colony":
        return True
    return "source_hive" in row.details or "target_hive" in row.details


def _began(rows: Sequence[Fact], days: RegisterDays, day: date) -> bool:
    return days.first <= day or any(row.day <= day for row in rows)


def _first_of_october(today: date) -> date:
    this = date(today.year, 10, 1)
    return this if this <= today - timedelta(days=30) else date(today.year - 1, 10, 1)
