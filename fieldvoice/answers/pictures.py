"""Pictures: mites with interval and threshold, strength, feed, weight, and a yard's year.

Drawn with matplotlib, which is imported only here and only when one is asked for.
"""

from __future__ import annotations

import io
from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from fieldvoice.answers.amounts import at_home, said_amount
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.courses import courses
from fieldvoice.answers.mites import counts, threshold
from fieldvoice.answers.strength import counted, frames_of
from fieldvoice.answers.units import in_unit, measures
from fieldvoice.answers.visits import HIVE_KINDS, NOW, allowed_days, is_opening
from fieldvoice.types import Fact

MOST = 12
"""Lines in one picture; more hives than that cannot be told apart."""


def picture(ask: Ask, what: str, file_format: str) -> bytes:
    """The picture `what` (a key of PICTURES) as "svg" or "png"."""
    import matplotlib as mpl

    mpl.use("agg")
    from matplotlib.figure import Figure

    draw = PICTURES[what]
    rows = len(ask.hives())
    high = max(4.0, 0.26 * rows + 1.2) if what == "year" else 4.5
    figure = Figure(figsize=(9, high), layout="constrained")
    axes = figure.add_subplot()
    drawn = draw(ask, axes)
    axes.set_title(f"{TITLES[what]}, {ask.place()}, {ask.first()} to {ask.last()}", fontsize=10)
    if not drawn:
        axes.text(0.5, 0.5, "Nothing in the log", transform=axes.transAxes, ha="center")
    out = io.BytesIO()
    # No date in the file: the same log gives the same picture.
    figure.savefig(out, format=file_format, metadata={"Date": None} if file_format == "svg" else {})
    return out.getvalue()


def _mites(ask: Ask, axes: Any) -> int:
    own = by_hive(ask.read("mites"), ask.hives())
    drawn = 0
    for hive in ask.hives():
        tested = [c for c in counts(own[hive.id]) if c.rate is not None and c.row.on]
        if not tested or drawn >= MOST:
            continue
        drawn += 1
        spans = [c.interval or (c.rate or 0.0, c.rate or 0.0) for c in tested]
        rates = [c.rate or 0.0 for c in tested]
        below = [rate - low for rate, (low, _) in zip(rates, spans, strict=True)]
        above = [high - rate for rate, (_, high) in zip(rates, spans, strict=True)]
        axes.errorbar(
            [c.row.on for c in tested], rates, yerr=[below, above], marker="o", capsize=3,
            label=f"hive {hive.label}",
        )  # fmt: skip
    if ask.hive is not None:
        for course in courses(ask, ask.hives())[0]:
            if course.start.on:
                axes.axvline(course.start.on, linestyle=":", color="0.4")
                axes.annotate(course.start.item, (course.start.on, 0), rotation=90, fontsize=7)
    _draw_threshold(ask, axes, [c.row.on for own_rows in own.values() for c in counts(own_rows)])
    _finish(axes, "mites per 100 bees (Wilson, 95 %)")
    return drawn


def _draw_threshold(ask: Ask, axes: Any, days: Sequence[date | None]) -> None:
    """The threshold of each day, for it changes with the season; none where nothing was counted."""
    told = [day for day in days if day is not None]
    if not told:
        return
    span = range(min(told).toordinal(), max(told).toordinal() + 1)
    limits = [threshold(ask, date.fromordinal(day)) for day in span]
    axes.step(
        [date.fromordinal(day) for day in span], [limit.over for limit in limits], where="post",
        color="0.2", linestyle="--", label=f"threshold: {limits[-1].name} ({limits[-1].source})",
    )  # fmt: skip


def _strength(ask: Ask, axes: Any) -> int:
    own = by_hive(ask.read("population", statuses=["seen"]), ask.hives())
    drawn = 0
    for hive in ask.hives():
        sized = [(r.day, f) for r in counted(own[hive.id]) if (f := frames_of(r))]
        if not sized or drawn >= MOST:
            continue
        drawn += 1
        days = [day for day, _ in sized]
        (line,) = axes.plot(
            days, [sum(f) / 2 for _, f in sized], marker=".", label=f"hive {hive.label}"
        )
        axes.fill_between(
            days, [f[0] for _, f in sized], [f[1] for _, f in sized], alpha=0.2,
            color=line.get_color(),
        )  # fmt: skip
    _finish(axes, "frames of bees, as counted")
    return drawn


def _feed(ask: Ask, axes: Any) -> int:
    rows = ask.read("feed", actions=["give", "add"], statuses=["done"])
    months: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    unknown = 0
    unit = "litre" if ask.settings.units == "metric" else "gallon"
    for row in rows:
        value = said_amount(row)
        if value is None or measures(value.unit) != "volume":
            unknown += value is None
            continue
        low, high, _ = at_home(value, ask.settings)
        months[f"{row.day:%Y-%m}"][row.item] += (low + high) / 2
    names = sorted({item for items in months.values() for item in items})
    bottom = dict.fromkeys(months, 0.0)
    for item in names:
        heights = [months[m][item] for m in sorted(months)]
        axes.bar(sorted(months), heights, bottom=[bottom[m] for m in sorted(months)], label=item)
        for month in months:
            bottom[month] += months[month][item]
    _finish(axes, f"{unit}s fed a month ({unknown} feedings without an amount are not in it)")
    return len(months)


def _weight(ask: Ask, axes: Any) -> int:
    own = by_hive(ask.read("stores", actions=["weigh"]), ask.hives())
    unit = "kilogram" if ask.settings.units == "metric" else "pound"
    drawn = 0
    for hive in ask.hives():
        points = [
            (row.day, in_unit((w.lo + w.hi) / 2, w.unit, unit))
            for row in own[hive.id]
            if (w := row.value("weight")) and w.unit and measures(w.unit) == "weight"
        ]
        if points and drawn < MOST:
            drawn += 1
            axes.plot(*zip(*points, strict=True), marker="o", label=f"hive {hive.label}")
    _finish(axes, f"hive on the scale, {unit}s")
    return drawn


def _year(ask: Ask, axes: Any) -> int:
    known = ask.hives()
    own = by_hive(ask.read(*HIVE_KINDS, statuses=NOW), known)
    opened: list[tuple[date, int]] = []
    looked: list[tuple[date, int]] = []
    for place, hive in enumerate(known):
        for row in own[hive.id]:
            (opened if is_opening(row) else looked).append((row.day, place))
        _overdue(ask, axes, own[hive.id], place)
    if looked:
        axes.scatter(*zip(*looked, strict=True), s=9, marker="|", color="0.6", label="looked at")
    if opened:
        axes.scatter(*zip(*opened, strict=True), s=14, marker="s", label="opened")
    axes.set_yticks(range(len(known)), [f"{hive.label}" for hive in known], fontsize=7)
    axes.invert_yaxis()
    _finish(axes, "hive")
    return len(opened) + len(looked)


def _overdue(ask: Ask, axes: Any, rows: Sequence[Fact], place: int) -> None:
    """A bar from the day a hive became overdue to the last day."""
    last = max((row.day for row in rows if is_opening(row)), default=None)
    allowed = allowed_days(ask.last())
    if last is None or allowed is None or (ask.last() - last).days <= allowed:
        return
    start = date.fromordinal(last.toordinal() + allowed)
    axes.plot([start, ask.last()], [place, place], color="tab:red", linewidth=2)


def _finish(axes: Any, label: str) -> None:
    axes.set_ylabel(label, fontsize=8)
    axes.tick_params(labelsize=8)
    axes.grid(visible=True, alpha=0.3)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(fontsize=7, ncols=2)


TITLES = {
    "mites": "Mites", "strength": "Strength", "feed": "Feed given", "weight": "Weight",
    "year": "The year at a glance (red: overdue)",
}  # fmt: skip
PICTURES: dict[str, Callable[[Ask, Any], int]] = {
    "mites": _mites, "strength": _strength, "feed": _feed, "weight": _weight, "year": _year,
}  # fmt: skip
