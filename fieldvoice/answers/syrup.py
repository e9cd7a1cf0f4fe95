"""Syrup: how strong, how much it makes, what a wanted amount takes.

Strength is percent sugar by weight; a ratio is sugar over water. Weights are kilograms
and volumes litres at 20 C. Density follows the sucrose table of `trade/syrup.toml`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from fieldvoice.answers.units import in_unit
from fieldvoice.errors import InputError
from fieldvoice.trade.load import trade_file


@dataclass(frozen=True, slots=True)
class Mix:
    """A syrup and what is in it."""

    sugar_kg: float
    water_kg: float

    @property
    def percent(self) -> float:
        """Sugar by weight, 0 to 100."""
        return 100 * self.sugar_kg / (self.sugar_kg + self.water_kg)

    @property
    def litres(self) -> float:
        """What it makes at 20 C."""
        return 1000 * (self.sugar_kg + self.water_kg) / density(self.percent)


def density(percent: float) -> float:
    """kg/m3 of a sucrose solution at 20 C, within 0.2 of the CRC table.

    Raises:
        InputError: more sugar than the table reaches.

    >>> round(density(50), 1)
    1229.6
    """
    fit = trade_file("syrup")["quartic"]
    if not 0 <= percent <= fit["highest"]:
        raise InputError(
            f"{percent:.1f} % sugar is outside the table (0 to {fit['highest']} %); "
            "such a mix is wet sugar, no syrup. Give more water or less sugar."
        )
    return float(sum(term * percent**power for power, term in enumerate(fit["terms"])))


def percent_of(ratio: float, by: str = "weight") -> float:
    """Strength of a syrup of sugar over water, measured by "weight" or by "volume".

    By volume, a cup of sugar and a cup of water weigh what `trade/syrup.toml` says.

    >>> round(percent_of(2), 1), round(percent_of(2, "volume"), 1)
    (66.7, 62.9)
    """
    if by == "volume":
        cup = trade_file("syrup")["cup"]
        ratio = ratio * cup["sugar"] / cup["water"]
    return 100 * ratio / (ratio + 1)


def wanted(litres: float, percent: float) -> Mix:
    """What `litres` of syrup of that strength take."""
    weight = litres * density(percent) / 1000
    sugar = weight * percent / 100
    return Mix(sugar, weight - sugar)


def from_sugar(sugar_kg: float, percent: float) -> Mix:
    """What that much sugar makes at that strength."""
    if percent <= 0:
        raise InputError("A syrup needs some sugar; give a ratio above 0.")
    return Mix(sugar_kg, sugar_kg * (100 - percent) / percent)


def water_kg(litres: float) -> float:
    """The weight of water at 20 C."""
    return litres * density(0) / 1000


def cups_of_sugar(sugar_kg: float) -> float:
    """Level US cups of granulated sugar."""
    return 1000 * sugar_kg / float(trade_file("syrup")["cup"]["sugar"])


def crystals_below(percent: float) -> float | None:
    """Degrees C below which sugar falls out; None if it never does above freezing.

    Read between the points of the solubility table; above its last point, that point.

    >>> round(crystals_below(200 / 3))
    17
    """
    points = sorted((float(t), w) for t, w in trade_file("syrup")["saturation"].items())
    if percent <= points[0][1]:
        return None
    for (cold, low), (warm, high) in pairwise(points):
        if percent <= high:
            return float(cold + (warm - cold) * (percent - low) / (high - low))
    return points[-1][0]


def feed_needed(short_pounds: float) -> tuple[float, float]:
    """US gallons of 2:1 for stores that are so many pounds short, and pounds of sugar in it."""
    gallons = max(short_pounds, 0) / float(trade_file("syrup")["stores"]["pounds_per_gallon"])
    mix = wanted(in_unit(gallons, "gallon", "litre"), percent_of(2)) if gallons else Mix(0, 0)
    return gallons, in_unit(mix.sugar_kg, "kilogram", "pound")
