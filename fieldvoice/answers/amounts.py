"""Sums of amounts that keep ranges and never count an unknown one as nothing."""

from __future__ import annotations

from dataclasses import dataclass

from fieldvoice.answers.syrup import density, percent_of
from fieldvoice.answers.units import in_unit, measures
from fieldvoice.settings import Settings
from fieldvoice.types import Fact, Value


@dataclass(frozen=True, slots=True)
class Sum:
    """Amounts of one thing added up: from `lo` to `hi` of `unit`, and how many were not said."""

    lo: float = 0.0
    hi: float = 0.0
    unit: str | None = None
    times: int = 0
    unsaid: int = 0

    def plus(self, lo: float, hi: float, unit: str | None) -> Sum:
        """With one more known amount of the same unit."""
        return Sum(self.lo + lo, self.hi + hi, unit or self.unit, self.times + 1, self.unsaid)

    def plus_unsaid(self) -> Sum:
        """With one more that nobody told the amount of."""
        return Sum(self.lo, self.hi, self.unit, self.times + 1, self.unsaid + 1)

    @property
    def known(self) -> bool:
        """Whether at least one amount was said."""
        return self.times > self.unsaid


def home_unit(unit: str | None, settings: Settings) -> str | None:
    """The unit that sums are told in: gallons and pounds, or litres and kilograms."""
    metric = settings.units == "metric"
    kind = measures(unit)
    if kind == "volume":
        return "litre" if metric else "gallon"
    if kind == "weight":
        return "kilogram" if metric else "pound"
    return unit


def said_amount(row: Fact) -> Value | None:
    """How much or how many a row says, if it does."""
    return row.value("amount") or row.value("weight") or row.value("count")


def at_home(value: Value, settings: Settings) -> tuple[float, float, str | None]:
    """A said amount in the unit of sums."""
    unit = home_unit(value.unit, settings)
    if value.unit is None or unit is None or unit == value.unit:
        return value.lo, value.hi, unit
    return in_unit(value.lo, value.unit, unit), in_unit(value.hi, value.unit, unit), unit


def sugar_in(row: Fact, settings: Settings) -> tuple[float, float] | None:
    """Sugar of a feed row in the weight of sums; None if amount or strength was not said.

    Syrup by its ratio and volume (or weight); dry sugar is itself; of other feeds the share
    of sugar is not known here.
    """
    value = said_amount(row)
    kind = measures(value.unit) if value else None
    if value is None or value.unit is None or kind is None:
        return None
    ratio = row.value("ratio")
    if row.item in ("sugar", "dry sugar") and kind == "weight":
        kilograms = [in_unit(n, value.unit, "kilogram") for n in (value.lo, value.hi)]
    elif ratio is not None and ratio.lo > 0:
        strengths = [percent_of(r, settings.ratio_by) for r in (ratio.lo, ratio.hi)]
        if kind == "volume":
            per = [density(s) / 1000 * s / 100 for s in strengths]
            kilograms = [
                in_unit(n, value.unit, "litre") * p
                for n, p in zip((value.lo, value.hi), per, strict=True)
            ]
        else:
            kilograms = [
                in_unit(n, value.unit, "kilogram") * s / 100
                for n, s in zip((value.lo, value.hi), strengths, strict=True)
            ]
    else:
        return None
    unit = "kilogram" if settings.units == "metric" else "pound"
    low, high = (in_unit(n, "kilogram", unit) for n in kilograms)
    return low, high


def up_to(lo: float, hi: float) -> float | None:
    """The upper end of a range, None where it is no range."""
    return hi if hi > lo else None
