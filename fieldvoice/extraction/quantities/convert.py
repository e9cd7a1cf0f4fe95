"""Convert a value from one unit of units.toml to another, by pint's registry.

pint's definitions are those of NIST SP 811 and the BIPM; gallon, quart, pint, cup and
spoons are the US liquid measures unless `imperial` is asked for.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.extraction.quantities.vocabulary import vocabulary

_PINT_NAMES = {
    "mile_per_hour": "mile/hour",
    "kilometre_per_hour": "kilometre/hour",
    "metre_per_second": "metre/second",
    "ton": "short_ton",
    "1": "dimensionless",
}
_IMPERIAL = ("gallon", "quart", "pint", "cup", "fluid_ounce")


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def convert(value: float, unit: str, to: str, *, imperial: bool = False) -> float:
    """`value` of `unit` in the unit `to`, both names of units.toml (or "1" for a share).

    Raises InputError for a name that is not there and for units of two dimensions.

    >>> round(convert(1, "gallon", "litre"), 6)
    3.785412
    """
    import pint

    registry = _registry()
    try:
        quantity = registry.Quantity(value, _pint_name(unit, imperial=imperial))
        return float(quantity.to(_pint_name(to, imperial=imperial)).magnitude)
    except pint.DimensionalityError as error:
        raise InputError(
            f"{value:g} {unit} cannot be told in {to}: they measure different things. "
            "Give two units of one kind."
        ) from error


def _pint_name(unit: str, *, imperial: bool) -> str:
    if unit != "1" and unit not in vocabulary().units:
        raise InputError(
            f'"{unit}" is not a unit that is known. Use a name from units.toml, or add it there.'
        )
    if unit == "degree":
        raise InputError("A temperature without a scale cannot be converted. Say F or C.")
    named = _PINT_NAMES.get(unit, vocabulary().units[unit].pint if unit != "1" else unit)
    return f"imperial_{named}" if imperial and unit in _IMPERIAL else named
