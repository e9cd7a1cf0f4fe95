"""Ready for winter: each point yes, no or unknown, with what it rests on; no score."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.answers.answer import UNKNOWN, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.courses import REMINDER, courses
from fieldvoice.answers.equipment import replay
from fieldvoice.answers.mites import latest_count, threshold, verdict
from fieldvoice.answers.queens import signs
from fieldvoice.answers.stores import short_by, target_pounds, told
from fieldvoice.answers.strength import counted, frames_of
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact

KINDS = ("stores", "population", "queen", "brood", "colony", "mites")
HEAVY = ("heavy", "plenty", "good", "full", "fat")
LIGHT = ("light", "short", "starving", "empty", "low")


def winter(ask: Ask) -> Answer:
    """Stores, strength, queen, mites, strips, guard and wrap of each hive."""
    rows = ask.read("equipment", "harvest", days=200) + ask.read(*KINDS, days=120)
    known = ask.hives()
    own = by_hive(rows, known)
    found, treated = courses(ask, known)
    still_in = {c.hive.id: c.start for c in found if c.open_on(ask.last())}
    table: list[tuple[Cell, ...]] = []
    for hive in known:
        mine = own[hive.id]
        strips = still_in.get(hive.id)
        table.append(
            (
                hive.label,
                hive.yard,
                _stores(ask, mine),
                _strength(mine),
                _queen(ask, mine),
                _mites(ask, mine),
                f"no: {strips.item} in since {strips.on}"
                if strips
                else "yes"
                if any(c.hive.id == hive.id for c in found)
                else "none put in",
                _fitted(mine, "guards"),
                _fitted(mine, "wraps"),
            )
        )
    rules = trade_file("thresholds")["winter"]
    limit = threshold(ask, ask.last())
    wanted = ask.settings.winter_stores
    return Answer(
        f"Ready for winter, as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "stores", f"{rules['frames']} frames", "queen", "mites under",
         "strips out", "guard", "wrap"),
        tuple(table), (*rows, *treated),
        (f"Stores: {wanted} of honey (winter_stores)." if wanted else
         "Stores by the keeper's words alone: set winter_stores in settings.toml.",
         f"Mites: threshold {limit.text()}, counts of the last {rules['mites_within_days']} days.",
         f"Strength and the {rules['eggs_within_days']} days for eggs: common practice, no source.",
         REMINDER),
        tuple(hive.label for hive in known if not own[hive.id]),
    )  # fmt: skip


def _stores(ask: Ask, rows: Sequence[Fact]) -> str:
    found = told(rows)
    if found is None:
        return UNKNOWN
    day = found.row.day
    missing = short_by(found, target_pounds(ask.settings))
    if missing is not None:
        if missing[1] == 0:
            return f"yes, {day}"
        sure = missing[0] > 0
        return f"{'no' if sure else UNKNOWN}: {missing[0]:.0f} to {missing[1]:.0f} lb short, {day}"
    words = f"{found.how} {found.row.quote}".lower()
    if any(word in words for word in LIGHT):
        return f'no: "{found.how}", {day}'
    if any(word in words for word in HEAVY):
        return f'yes: "{found.how}", {day}'
    return f"{UNKNOWN}: {found.how}, {day}"


def _strength(rows: Sequence[Fact]) -> str:
    sized = [row for row in counted(rows) if row.status == "seen"]
    frames = frames_of(sized[-1]) if sized else None
    if frames is None:
        return f"{UNKNOWN}: not in frames, {sized[-1].day}" if sized else UNKNOWN
    needed = trade_file("thresholds")["winter"]["frames"]
    shown = f"{frames[0]:g}" if frames[0] == frames[1] else f"{frames[0]:g} to {frames[1]:g}"
    state = "yes" if frames[0] >= needed else "no" if frames[1] < needed else UNKNOWN
    return f"{state}: {shown}, {sized[-1].day}"


def _queen(ask: Ask, rows: Sequence[Fact]) -> str:
    found = signs(rows)
    eggless = found.no_eggs.day if found.no_eggs else None
    if found.proof is not None and (eggless is None or eggless <= found.proof):
        within = trade_file("thresholds")["winter"]["eggs_within_days"]
        age = (ask.last() - found.proof).days
        return f"{'yes' if age <= within else UNKNOWN}: seen or eggs {found.proof}"
    return f"no: no eggs {eggless}" if eggless else UNKNOWN


def _mites(ask: Ask, rows: Sequence[Fact]) -> str:
    count = latest_count(rows, ask.last())
    if count is None or count.row.on is None or count.rate is None:
        return UNKNOWN
    age = (ask.last() - count.row.on).days
    if age > trade_file("thresholds")["winter"]["mites_within_days"]:
        return f"{UNKNOWN}: last count {count.row.on}"
    said = verdict(count, threshold(ask, ask.last()))
    state = UNKNOWN if "uncertain" in said else "yes" if said.startswith("under") else "no"
    return f"{state}: {count.rate:.1f} per 100, {count.row.on}"


def _fitted(rows: Sequence[Fact], what: str) -> str:
    pieces = replay(rows)
    for item in trade_file("thresholds")["winter"][what]:
        piece = pieces.get(item)
        if piece is None:
            continue
        if piece.on:
            return f"yes: {item} {piece.last.day}" if piece.last else "yes"
        if piece.on == 0 and piece.last:
            return f"no: {item} {piece.condition or 'taken off'} {piece.last.day}"
    return UNKNOWN
