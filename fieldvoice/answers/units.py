"""Amounts in other units, by pint: its definitions are those of NIST SP 811 and the BIPM."""

from __future__ import annotations

from functools import cache
from typing import Any

_PINT = {"fluid_ounce": "fluid_ounce", "ton": "short_ton"}
_IMPERIAL = ("gallon", "quart", "pint", "cup", "fluid_ounce")
VOLUMES = (
    "gallon", "quart", "pint", "cup", "fluid_ounce", "tablespoon", "teaspoon", "litre",
    "millilitre", "centilitre",
)  # fmt: skip
WEIGHTS = ("pound", "ounce", "gram", "milligram", "kilogram", "tonne", "ton")


def measures(unit: str | None) -> str | None:
    """What a unit of the log measures: "volume", "weight", or None for anything else."""
    return "volume" if unit in VOLUMES else "weight" if unit in WEIGHTS else None


def in_unit(amount: float, unit: str, to: str, *, imperial: bool = False) -> float:
    """`amount` of `unit` told in `to`; both measure volume, or both weight.

    >>> round(in_unit(1, "gallon", "litre"), 6)
    3.785412
    >>> round(in_unit(1, "gallon", "litre", imperial=True), 5)
    4.54609
    """
    return amount * _factor(unit, to, imperial)


@cache
def _factor(unit: str, to: str, imperial: bool) -> float:  # noqa: FBT001 - the key of the cache
    if unit == to:
        return 1.0
    registry = _registry()
    names = [
        f"imperial_{name}" if imperial and name in _IMPERIAL else _PINT.get(name, name)
        for name in (unit, to)
    ]
    return float(registry.Quantity(1.0, names[0]).to(names[1]).magnitude)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def to_celsius(degrees: float, unit: str) -> float:
    """Degrees of "degF" or "degC" in Celsius.

    >>> round(to_celsius(50, "degF"), 1)
    10.0
    """
    return (degrees - 32) / 1.8 if unit == "degF" else degrees
