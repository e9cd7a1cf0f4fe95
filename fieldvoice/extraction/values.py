"""The numbers of a fact as values: role, range, unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldvoice.extraction.nouns import noun_after
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Value

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact, Owned
    from fieldvoice.extraction.candidates import Candidates, Number

NOT_CELSIUS = 45.0  # no keeper works at 46 degrees Celsius: such a number is Fahrenheit


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
        return _scale(candidates, number, owned)
    if number.unit and number.unit != "part:part":
        return number.unit
    noun = noun_after(candidates, number)
    if role == "count":
        return noun or (owned.unit_class if owned.unit_class[:1] != "*" else fact.item)
    if role in ("moisture", "rate"):
        return "percent"
    if role == "sample":
        return noun or "bee"
    return owned.unit_class if owned.unit_class[:1] != "*" else noun


def _scale(candidates: Candidates, number: Number, owned: Owned) -> str:
    """Celsius or Fahrenheit: as said, by the number, by the other units, or by the model."""
    if number.unit in ("degC", "degF"):
        return number.unit
    if number.hi > NOT_CELSIUS:
        return "degF"
    known = scale_of(candidates)
    if known:
        return known
    return owned.unit_class if owned.unit_class in ("degC", "degF") else "degC"


def scale_of(candidates: Candidates) -> str | None:
    """The scale that goes with the narration's other units, if they agree."""
    scales = trade_file("bounds")["scales"]
    said = {scales[q.unit] for q in candidates.quantities if q.unit in scales}
    return said.pop() if len(said) == 1 else None
