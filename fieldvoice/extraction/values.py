"""The numbers of a fact as values: role, range, unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldvoice.extraction.things import singular
from fieldvoice.types import Value

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact, Owned
    from fieldvoice.extraction.candidates import Candidates, Number

_STOPS = {",", ".", "?", "!", "...", "and", "or", "but", "on", "in", "at", "with", "so", "per"}
_BARE_UNITS = {"moisture": "percent", "rate": "percent", "sample": "bee", "count": None}
NOT_FAHRENHEIT = 45.0  # no keeper works at 46 degrees Celsius: such a number is Fahrenheit


def value_of(candidates: Candidates, fact: Fact, owned: Owned) -> Value:
    """One number with its role and unit, as the contract writes it."""
    number = candidates.quantities[owned.number]
    role = "ratio" if number.shape == "ratio" else owned.role
    unit = _unit(candidates, fact, number, owned, role)
    return Value(role, number.lo, number.hi, unit, number.approx, number.said)


def _unit(
    candidates: Candidates, fact: Fact, number: Number, owned: Owned, role: str
) -> str | None:
    if role == "ratio":
        return "sugar:water"
    if role == "temperature" or number.unit == "degree":
        return _scale(number, owned)
    if number.unit and number.unit != "part:part":
        return number.unit
    noun = _noun_after(candidates, number)
    if role == "count":
        return noun or (owned.unit_class if owned.unit_class[:1] != "*" else fact.item)
    if role in ("moisture", "rate"):
        return "percent"
    if role == "sample":
        return noun or "bee"
    return owned.unit_class if owned.unit_class[:1] != "*" else noun


def _scale(number: Number, owned: Owned) -> str:
    """Celsius or Fahrenheit: as said, else by the number, else by the model."""
    if number.unit in ("degC", "degF"):
        return number.unit
    if number.hi > NOT_FAHRENHEIT:
        return "degF"
    return owned.unit_class if owned.unit_class in ("degC", "degF") else "degC"


def _noun_after(candidates: Candidates, number: Number) -> str | None:
    """The thing counted: the first one that follows within three words of the same clause."""
    tokens = candidates.document.tokens
    starts = {t.first: t for t in candidates.things}
    for i in range(number.last, min(number.last + 4, len(tokens))):
        if tokens[i].low in _STOPS:
            return None
        if tokens[i].low == "of":
            continue
        if i in starts:
            return starts[i].said
        if i == number.last and singular(tokens[i].low) != tokens[i].low:
            return singular(tokens[i].low)
    return None
