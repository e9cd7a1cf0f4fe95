"""When an item that was read is the item that was said.

An item is a dict with `type` (ratio, quantity, count, number, ordinal, range, fraction,
duration, date), its number (`value`, `lo` and `hi`, or `a` and `b`), `unit`, and `start` and
`end`, characters of the text. It matches where its place, type, numbers (to 0.1 %) and, if a
physical unit was said, its unit agree; a counted thing ("frames") need not be named.
"""

from __future__ import annotations

import re
from datetime import date
from functools import cache
from typing import Any

Item = dict[str, Any]

SECONDS = {
    "second": 1, "minute": 60, "hour": 3600, "day": 86400, "week": 604800,
    "fortnight": 1209600, "month": 2629800, "quarter": 7889400, "year": 31557600,
    "weekend": 172800, "decade": 315576000,
}  # fmt: skip
ALIASES = {
    "g": "gram", "gramme": "gram", "kg": "kilogram", "kilo": "kilogram", "mg": "milligram",
    "lb": "pound", "pound-mass": "pound", "pound mass": "pound", "oz": "ounce", "l": "litre",
    "liter": "litre", "ml": "millilitre", "milliliter": "millilitre", "mil": "millilitre",
    "ft": "foot", "feet": "foot", "in": "inch", "inches": "inch", "mi": "mile",
    "mm": "millimetre", "cm": "centimetre", "m": "metre", "km": "kilometre", "f": "fahrenheit",
    "c": "celsius", "degree fahrenheit": "fahrenheit", "degree celsius": "celsius",
    "degf": "fahrenheit", "degc": "celsius", "degree angle": "degree", "centigrade": "celsius",
    "percentage": "percent", "%": "percent", "mile per hour": "mph", "mile_per_hour": "mph",
    "kilometer per hour": "kph", "kilometre per hour": "kph", "kilometre_per_hour": "kph",
    "gal": "gallon", "qt": "quart", "pt": "pint", "tbsp": "tablespoon", "tsp": "teaspoon",
    "amp": "ampere", "metric ton": "tonne", "fluid_ounce": "fluidounce",
}  # fmt: skip
PHYSICAL = (
    set(ALIASES.values())
    | set(SECONDS)
    | {"gram", "kilogram", "pound", "ounce", "cup", "pint", "quart", "gallon", "litre", "inch"}
    | {"foot", "mile", "metre", "tablespoon", "teaspoon", "degree", "percent", "volt", "ampere"}
)
_SCALES = ("fahrenheit", "celsius", "degree", "kelvin")
_PINT = {
    "fahrenheit": "delta_degF", "celsius": "delta_degC", "kph": "kilometer/hour",
    "mph": "mile/hour", "fluidounce": "fluid_ounce",
}  # fmt: skip
_NUMBERS = ("number", "quantity", "count", "fraction", "duration")


def canonical(unit: str | None) -> str | None:
    """One name for a unit, however a set spells it."""
    if unit is None:
        return None
    name = str(unit).strip().lower()
    if name in ("", "dimensionless", "none", "unknown"):
        return None
    for form in (name, name.removesuffix("s"), re.sub(r"(lit|met)er\b", r"\1re", name)):
        if form in ALIASES:
            return ALIASES[form]
        if form in SECONDS:
            return form
    return re.sub(r"(lit|met)er\b", r"\1re", name)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


@cache
def _in_base_units(unit: str) -> tuple[float, str] | None:
    import pint

    name = _PINT.get(unit, unit)
    name = re.sub(r"^square (\w+)", r"\1**2", name)
    name = re.sub(r"^cubic (\w+)", r"\1**3", name).replace(" per ", "/")
    try:
        base = _registry().Quantity(1, name).to_base_units()
    except (pint.PintError, ValueError, AttributeError, AssertionError, TypeError):
        return None
    return float(base.magnitude), str(base.dimensionality)


def _factor(unit: str, to: str) -> float | None:
    """How many of `to` are in one `unit`; None where they cannot be compared."""
    if unit == to:
        return 1.0
    if unit in SECONDS and to in SECONDS:
        return SECONDS[unit] / SECONDS[to]
    if unit in _SCALES or to in _SCALES:
        return None
    one, other = _in_base_units(unit), _in_base_units(to)
    return one[0] / other[0] if one and other and one[1] == other[1] else None


def _near(said: float | None, read: float | None, share: float = 1e-3) -> bool:
    if said is None or read is None:
        return False
    return abs(said - read) <= max(share * abs(said), 1e-9)


def _same_amount(said: tuple[float, str | None], read: tuple[float, str | None]) -> bool:
    unit, other = canonical(said[1]), canonical(read[1])
    if unit == other:
        return _near(said[0], read[0])
    if unit == "degree" and other in ("celsius", "fahrenheit"):
        return _near(said[0], read[0])
    if unit is None or other is None:
        return False
    factor = _factor(other, unit)
    return factor is not None and _near(said[0], read[0] * factor, 2e-3)


def overlap(said: Item, read: Item) -> bool:
    """Whether the two share a character of the text."""
    if said.get("start") is None or read.get("start") is None:
        return True
    return bool(read["start"] < said["end"] and said["start"] < read["end"])


def matches(said: Item, read: Item) -> bool:
    """Whether what was read is what was said."""
    if not overlap(said, read):
        return False
    kind = said["type"]
    if kind == "ratio":
        return read["type"] == "ratio" and _near(said["a"] * read["b"], said["b"] * read["a"])
    if kind == "ordinal":
        return read["type"] == "ordinal" and _near(said["value"], read["value"])
    if kind == "range":
        return read["type"] == "range" and _range_matches(said, read)
    if kind == "date":
        return read["type"] == "date" and _date_matches(said, read)
    if kind in ("quantity", "duration"):
        return _amount_matches(said, read)
    return _number_matches(said, read)


def _number_matches(said: Item, read: Item) -> bool:
    if read["type"] not in ("number", "quantity", "count", "fraction"):
        return False
    value = said["value"]
    loose = said["type"] == "fraction" or (abs(value) < 1 and value != round(value, 2))
    close = abs(value - read["value"]) < 0.006 if loose else _near(value, read["value"])
    unit, other = canonical(said.get("unit")), canonical(read.get("unit"))
    fits = other is None or other == unit or (unit is not None and other.rstrip("s") == unit)
    return close and (fits or (other not in PHYSICAL and read["type"] != "quantity"))


def _amount_matches(said: Item, read: Item) -> bool:
    unit, other = canonical(said.get("unit")), canonical(read.get("unit"))
    if said["type"] == "quantity" and unit is None:
        fits = other is None or other in ("degree", "mph")
        return read["type"] in _NUMBERS and _near(said["value"], read["value"]) and fits
    if read["type"] not in ("quantity", "duration"):
        return False
    if _same_amount((said["value"], unit), (read["value"], other)):
        return True
    if unit in SECONDS and other in SECONDS:
        seconds, read_seconds = said["value"] * SECONDS[unit], read["value"] * SECONDS[other]
        long = {unit, other} & {"month", "year", "quarter"} or seconds >= 2592000
        return bool(abs(seconds - read_seconds) <= (0.02 if long else 2e-3) * seconds)
    return False


def _range_matches(said: Item, read: Item) -> bool:
    unit, other = canonical(said.get("unit")), canonical(read.get("unit"))
    for end in ("lo", "hi"):
        one, two = said.get(end), read.get(end)
        if (one is None) != (two is None):
            return False
        if one is None:
            continue
        physical = unit in PHYSICAL and unit != "degree"
        same = _same_amount((one, unit), (two, other)) if physical else _near(one, two)
        if not same:
            return False
    return True


def _readings(item: Item) -> list[tuple[date, date]]:
    out = []
    for reading in [
        (item["lo"], item["hi"]) if item.get("lo") else item.get("value"),
        *(item.get("alt") or []),
    ]:
        first, last = (reading, reading) if isinstance(reading, str) else reading
        out.append((date.fromisoformat(first[:10]), date.fromisoformat(last[:10])))
    return out


def _date_matches(said: Item, read: Item) -> bool:
    for first, last in _readings(said):
        for start, end in _readings(read):
            if (first, last) == (start, end):
                return True
            shared = (min(last, end) - max(first, start)).days + 1
            either = (max(last, end) - min(first, start)).days + 1
            if said.get("approx") and first != last and start != end and shared / either >= 0.5:
                return True
    return False
