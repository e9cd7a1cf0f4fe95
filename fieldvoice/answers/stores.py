"""Stores: honey as last told, what is missing for winter, feed and sugar for it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from fieldvoice.answers.answer import NOT_LOOKED, UNKNOWN, Answer, Cell
from fieldvoice.answers.ask import Ask, by_hive
from fieldvoice.answers.comb import honey_in
from fieldvoice.answers.syrup import feed_needed
from fieldvoice.answers.units import in_unit, measures
from fieldvoice.errors import SettingsError
from fieldvoice.logbook.register import Hive
from fieldvoice.settings import Settings
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact

DEPTHS = ("deep", "medium", "shallow")


@dataclass(frozen=True, slots=True)
class Told:
    """The last word on a hive's stores; pounds of honey only where they can be told."""

    row: Fact
    pounds: tuple[float, float] | None
    how: str  # "weighed", "frames", or the words
    gross: bool = False  # the whole hive was on the scale


def told(rows: Sequence[Fact]) -> Told | None:
    """The newest row that says how much a hive has, oldest first; supers are not its stores."""
    for row in reversed(rows):
        if row.kind == "stores" and row.status in ("seen", "done", "absent") and row.item not in (
            "super", "honey super", "pollen", "bee bread",
        ):  # fmt: skip
            return _read(row)
    return None


def _read(row: Fact) -> Told:
    weight = row.value("weight") or row.value("amount")
    if weight is not None and weight.unit and measures(weight.unit) == "weight":
        pounds = (
            in_unit(weight.lo, weight.unit, "pound"),
            in_unit(weight.hi, weight.unit, "pound"),
        )
        if row.action == "weigh":
            return Told(row, pounds, "whole hive weighed", gross=True)
        return Told(row, pounds, "estimated")
    frames = row.value("count", "frame")
    if frames is not None:
        depth = next((d for d in DEPTHS if d in " ".join(row.details.values())), None)
        said = "frames" if frames.lo == frames.hi == 1 else f"{frames.lo:g} frames"
        return Told(row, honey_in((frames.lo, frames.hi), depth), said)
    if row.status == "absent":
        return Told(row, (0.0, 0.0), "none seen")
    return Told(row, None, row.details.get("condition") or row.quote or UNKNOWN)


def target_pounds(settings: Settings) -> float | None:
    """Pounds of honey that a hive needs for winter by the settings; None if not set.

    Raises:
        SettingsError: it is not a number with a unit of weight.
    """
    if not settings.winter_stores:
        return None
    found = re.fullmatch(r"([\d.]+)\s*([a-z]+?)s?", settings.winter_stores.strip().lower())
    names = {"lb": "pound", "kg": "kilogram"}
    unit = names.get(found[2], found[2]) if found else None
    if found is None or measures(unit) != "weight" or unit is None:
        raise SettingsError(
            f'winter_stores = "{settings.winter_stores}" is no weight; write it as "60 pound".'
        )
    return in_unit(float(found[1]), unit, "pound")


def short_by(stores: Told | None, target: float | None) -> tuple[float, float] | None:
    """Pounds missing, from least to most; None if target or stores are not known as honey."""
    if stores is None or stores.pounds is None or stores.gross or target is None:
        return None
    low, high = stores.pounds
    return max(0.0, target - high), max(0.0, target - low)


def stores(ask: Ask) -> Answer:
    """Each hive's stores as last told, what is missing, and the feed and sugar for it in all."""
    rows = ask.read("stores", days=120)
    known = ask.hives()
    own = by_hive(rows, known)
    target = target_pounds(ask.settings)
    table, unsure = [], []
    low_sum = high_sum = 0.0
    for hive in known:
        found = told(own[hive.id])
        missing = short_by(found, target)
        table.append(_line(ask, hive, found, missing))
        if missing is None:
            unsure.append(hive.label)
        else:
            low_sum, high_sum = low_sum + missing[0], high_sum + missing[1]
    weight, volume = _units(ask)
    return Answer(
        f"Stores as of {ask.last()}, {ask.place()}",
        ("hive", "yard", "told on", "days ago", "how", f"honey, {weight}", "up to",
         f"short, {weight}", "short up to", f"2:1, {volume}s", f"{volume}s up to"),
        tuple(table), rows,
        (*_target_notes(ask, target, unsure), *_sum_notes(ask, target, (low_sum, high_sum))),
        tuple(hive.label for hive in known if not own[hive.id]),
    )  # fmt: skip


def _units(ask: Ask) -> tuple[str, str]:
    return ("kg", "litre") if ask.settings.units == "metric" else ("lb", "gallon")


def _weight(ask: Ask, pounds: float) -> float:
    return in_unit(pounds, "pound", "kilogram") if ask.settings.units == "metric" else pounds


def _volume(ask: Ask, gallons: float) -> float:
    return in_unit(gallons, "gallon", "litre") if ask.settings.units == "metric" else gallons


def _line(
    ask: Ask, hive: Hive, found: Told | None, missing: tuple[float, float] | None
) -> tuple[Cell, ...]:
    if found is None:
        return (hive.label, hive.yard, NOT_LOOKED, *[None] * 8)
    honey: tuple[Cell, ...] = (None, None)
    how = found.how
    if found.pounds is not None and not found.gross:
        honey = tuple(_weight(ask, pounds) for pounds in found.pounds)
    elif found.pounds is not None:
        how = f"{how}: {_weight(ask, found.pounds[0]):.0f} {_units(ask)[0]}"
    short: tuple[Cell, ...] = (None, None, None, None)
    if missing is not None:
        feeds = (_volume(ask, feed_needed(pounds)[0]) for pounds in missing)
        short = (*(_weight(ask, pounds) for pounds in missing), *feeds)
    return (
        hive.label, hive.yard, found.row.day, (ask.last() - found.row.day).days, how, *honey,
        *short,
    )  # fmt: skip


def _target_notes(ask: Ask, target: float | None, unsure: Sequence[str]) -> list[str]:
    rule = trade_file("syrup")["stores"]["source"]
    if target is None:
        examples = trade_file("thresholds")["winter"]["examples"]
        return [
            "What a hive needs differs by region: set winter_stores in settings.toml to see what "
            f"is missing (published examples: {examples})."
        ]
    wanted = f"{_weight(ask, target):.3g} {_units(ask)[0]}"
    notes = [f"Wanted: {wanted} of honey a hive (winter_stores). Feed: {rule}."]
    if unsure:
        notes.append(f"Unknown, not counted as full or empty: {', '.join(unsure)}.")
    return notes


def _sum_notes(ask: Ask, target: float | None, short: tuple[float, float]) -> list[str]:
    if target is None:
        return []
    weight, volume = _units(ask)
    feeds = [feed_needed(pounds) for pounds in short]
    missing = " to ".join(f"{_weight(ask, pounds):.0f}" for pounds in short)
    liquid = " to ".join(f"{_volume(ask, gallons):.1f}" for gallons, _ in feeds)
    sugar = " to ".join(f"{_weight(ask, pounds):.0f}" for _, pounds in feeds)
    us = "US " if volume == "gallon" else ""
    return [
        f"In all {missing} {weight} short: {liquid} {us}{volume}s of 2:1, {sugar} {weight} of sugar."
    ]
