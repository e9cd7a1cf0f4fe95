"""Mites: the trend of one hive, and which hives are over the threshold or not tested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fieldvoice.answers.answer import NOT_LOOKED, UNKNOWN, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.own import named_entries
from fieldvoice.answers.sampling import chance_of_change, per_hundred, wilson
from fieldvoice.answers.units import in_unit, measures
from fieldvoice.errors import SettingsError
from fieldvoice.logbook.register import Hive
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact

REMINDER = "Treat only as the product's label and your local rules say; check the label."
NOISE = 0.05


@dataclass(frozen=True, slots=True)
class Count:
    """One count of mites: a wash of so many bees, or a board with its days."""

    row: Fact
    mites: int | None
    bees: int | None = None  # None: the sample was not said, or it was a board
    rate: float | None = None  # per 100 bees, counted or as said
    interval: tuple[float, float] | None = None
    per_day: float | None = None  # of a board


@dataclass(frozen=True, slots=True)
class Threshold:
    """A published number with where and when it was published."""

    over: float
    says: str
    name: str
    source: str

    def text(self) -> str:
        """The threshold as every answer prints it."""
        return f"{self.over:g} per 100 ({self.name}: {self.says}; {self.source})"


def count_of(row: Fact) -> Count:
    """What a row of the log says of mites."""
    count, sample, rate = row.value("count"), row.value("sample"), row.value("rate")
    mites = round(count.lo) if count and count.lo == count.hi else None
    days = row.value("duration")
    if days is not None and days.unit == "day" and days.lo > 0:
        return Count(row, mites, per_day=None if mites is None else mites / days.lo)
    if row.details.get("method") == "mite board":
        return Count(row, mites)
    bees = None
    if sample is not None and sample.lo == sample.hi:
        if sample.unit == "bee":
            bees = round(sample.lo)
        elif measures(sample.unit) == "volume" and sample.unit:
            per_cup = trade_file("counts")["sample"]["bees_per_cup"]
            bees = round(in_unit(sample.lo, sample.unit, "cup") * per_cup)
    if mites is not None and bees and mites <= bees:
        return Count(row, mites, bees, per_hundred(mites, bees), wilson(mites, bees))
    said = rate.lo if rate and rate.lo == rate.hi else None
    return Count(row, mites, rate=said)


def threshold(ask: Ask, day: date) -> Threshold:
    """The published threshold of the settings that holds on that day.

    Raises:
        SettingsError: the set is neither in `trade/thresholds.toml` nor in the keeper's own.
    """
    sets = named_entries(ask, "thresholds", "mites", ("seasons", "source", "dated"))
    chosen = sets.get(ask.settings.mite_threshold)
    if chosen is None:
        raise SettingsError(
            f"mite_threshold = {ask.settings.mite_threshold!r} is not one of {', '.join(sets)}."
        )
    today = f"{day:%m-%d}"
    for season in chosen["seasons"]:
        first, last = season["from"], season["to"]
        inside = first <= today <= last if first <= last else today >= first or today <= last
        if inside:
            return Threshold(
                float(season["over"]), season["says"], chosen["name"],
                f"{chosen['source']}, {chosen['dated']}",
            )  # fmt: skip
    raise SettingsError(f"The set {chosen['name']} has no threshold for {day}; add one to it.")


def counts(rows: Sequence[Fact]) -> list[Count]:
    """The counts among rows; what was only planned or skipped is none."""
    return [
        count_of(row) for row in rows if row.kind == "mites" and row.status in ("done", "past", "seen")
        and row.action in ("sample", "see")
    ]  # fmt: skip


def verdict(test: Count, limit: Threshold) -> str:
    """A test against a threshold; where the interval holds both, it is uncertain."""
    if test.rate is None:
        return UNKNOWN
    side = "over" if test.rate >= limit.over else "under"
    if test.interval is None:
        return f"{side}, by the rate as said"
    low, high = test.interval
    return f"{side}, uncertain: test again" if low < limit.over <= high else side


def mites(ask: Ask) -> Answer:
    """One hive: each count with its interval. More: the latest of each against the threshold."""
    return _trend(ask, ask.hive) if ask.hive is not None else _overview(ask)


def _trend(ask: Ask, hive: Hive) -> Answer:
    rows = ask.read("mites", "treatment")
    table: list[tuple[Cell, ...]] = []
    before: Count | None = None
    for row in rows:
        if row.kind == "treatment":
            if row.status in ("done", "past"):
                table.append((row.on or UNKNOWN, f"{row.action} {row.item}", *[None] * 7))
            continue
        if row.status not in ("done", "past", "seen") or row.action == "inspect":
            continue
        test = count_of(row)
        table.append(_tested(ask, test, before))
        before = test if test.bees else before
    columns = (
        "day", "how", "mites", "bees", "per 100", "from", "to", "against the one before",
        "threshold",
    )  # fmt: skip
    return Answer(
        f"Mites in {ask.place()}, {ask.first()} to {ask.last()}",
        columns, tuple(table), rows, (*_method(), REMINDER),
        () if any(row.kind == "mites" for row in rows) else (hive.label,),
    )  # fmt: skip


def _tested(ask: Ask, test: Count, before: Count | None) -> tuple[Cell, ...]:
    day = test.row.on
    how = test.row.details.get("method") or ("wash" if test.bees else "count")
    if test.per_day is not None:
        how = f"board, {test.per_day:.1f} a day"
    low, high = test.interval or (None, None)
    return (
        day or UNKNOWN, how, test.mites, test.bees or UNKNOWN, test.rate, low, high,
        change(before, test),
        verdict(test, threshold(ask, day)) if day else UNKNOWN,
    )  # fmt: skip


def change(before: Count | None, now: Count) -> str | None:
    """Whether a count differs from the one before by more than chance."""
    if before is None or before.bees is None or now.bees is None:
        return None
    if before.mites is None or now.mites is None or before.rate is None or now.rate is None:
        return None
    chance = chance_of_change((before.mites, before.bees), (now.mites, now.bees))
    way = "up" if now.rate > before.rate else "down" if now.rate < before.rate else "the same"
    if way == "the same":
        return way
    if chance > NOISE:
        return f"{way}, but within sampling noise (p {chance:.2f})"
    return f"{way} (p {chance:.3f})" if chance >= 0.0005 else f"{way} (p below 0.001)"


def _overview(ask: Ask) -> Answer:
    rows = ask.read("mites", statuses=["done", "past", "seen"])
    known = ask.hives()
    own = by_hive(rows, known)
    limit = threshold(ask, ask.last())
    within = trade_file("thresholds")["tested"]["within_days"]
    lines = [_latest(ask, hive, own[hive.id], limit, within) for hive in known]
    order = {"over": 0, "under": 2, NOT_LOOKED: 1}
    lines.sort(key=lambda line: order.get(str(line[8]).split(",")[0].split(":")[0], 1))
    return Answer(
        f"Mites as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "tested", "days ago", "mites", "bees", "per 100", "interval", "state"),
        tuple(lines), rows,
        (f"Threshold: {limit.text()}.", f"A test older than {within} days counts as not tested.",
         *_method(), REMINDER),
        tuple(hive.label for hive in known if not own[hive.id]),
    )  # fmt: skip


def latest_count(rows: Sequence[Fact], last: date) -> Count | None:
    """The newest count with a rate, up to a day; of one day the one told last."""
    dated = [t for t in counts(rows) if t.rate is not None and t.row.on and t.row.on <= last]
    return max(reversed(dated), key=lambda t: t.row.on or date.min, default=None)


def _latest(
    ask: Ask, hive: Hive, rows: Sequence[Fact], limit: Threshold, within: int
) -> tuple[Cell, ...]:
    test = latest_count(rows, ask.last())
    if test is None or test.row.on is None:
        boards = [t for t in counts(rows) if t.per_day is not None]
        told = f"no wash; board {boards[-1].per_day:.1f} a day" if boards else NOT_LOOKED
        return hive.label, hive.yard, NOT_LOOKED, None, None, None, None, None, told
    ago = (ask.last() - test.row.on).days
    span = f"{test.interval[0]:.1f} to {test.interval[1]:.1f}" if test.interval else None
    state = verdict(test, limit) if ago <= within else f"{NOT_LOOKED} in {within} days"
    return (
        hive.label, hive.yard, test.row.on, ago, test.mites, test.bees or UNKNOWN, test.rate,
        span, state,
    )  # fmt: skip


def _method() -> tuple[str, ...]:
    sample = trade_file("counts")["sample"]
    return (
        "Interval: Wilson, 95 %, bees taken as independent; the true one is wider. A board's "
        "count is not turned into a rate.",
        f"Bees of a container are assumed: {sample['source']}; {sample['others']}.",
    )
