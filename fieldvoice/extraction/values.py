"""The numbers of a fact as values: role, range, unit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from fieldvoice.extraction.nouns import noun_after
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Value

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact, Owned
    from fieldvoice.extraction.candidates import Candidates, Number

RARELY_FAHRENHEIT = 33.0  # nobody opens a hive in frost
NOT_CELSIUS = 45.0  # no keeper works at 46 degrees Celsius: such a number is Fahrenheit


def values_of(candidates: Candidates, fact: Fact) -> tuple[Value, ...]:
    """All numbers of a fact, those it takes over from an earlier one with its own words."""
    own = tuple(value_of(candidates, fact, owned) for owned in fact.numbers)
    if not own and fact.kind == "supply":
        own = _contained(candidates, fact)
    taken = tuple(
        replace(value_of(candidates, fact, owned), said=fact.same_words) for owned in fact.same
    )
    return own + taken


def value_of(candidates: Candidates, fact: Fact, owned: Owned) -> Value:
    """One number with its role and unit, as the contract writes it."""
    number = candidates.quantities[owned.number]
    role = "ratio" if number.shape == "ratio" else owned.role
    unit = _unit(candidates, fact, number, owned, role)
    return Value(role, number.lo, number.hi, unit, number.approx, number.said)


def _contained(candidates: Candidates, fact: Fact) -> tuple[Value, ...]:
    """ "A sack of sugar", "smoker fuel, a sack": one container is an amount of 1."""
    tokens = candidates.document.tokens
    for i in range(max(1, fact.anchor - 4), min(len(tokens), fact.anchor + 6)):
        noun, article = tokens[i], tokens[i - 1]
        near = noun.sentence == tokens[fact.anchor].sentence
        known = noun.low in trade_file("cues")["containers"]
        if near and known and article.low in ("a", "an", "another") and i != fact.anchor:
            return (
                Value("amount", 1.0, 1.0, noun.low, said=candidates.document.said(i - 1, i + 1)),
            )
    return ()


def _unit(
    candidates: Candidates, fact: Fact, number: Number, owned: Owned, role: str
) -> str | None:
    if role == "ratio":
        return "sugar:water"
    if role == "temperature" or number.unit == "degree":
        return _scale(candidates, number, owned)
    if role == "size" and number.unit == "millilitre":
        return "millimetre"  # "fifteen mil" of an entrance
    if number.unit and number.unit != "part:part":
        return number.unit
    noun = noun_after(candidates, number)
    if role == "count":
        return noun or (owned.unit_class if owned.unit_class[:1] != "*" else fact.item)
    if role in ("moisture", "rate"):
        return "percent"
    if role == "sample":
        return noun or "bee"
    return owned.unit_class if owned.unit_class not in ("*literal*", "sugar:water") else noun


def _scale(candidates: Candidates, number: Number, owned: Owned) -> str:
    """Celsius or Fahrenheit: as said, by the number, by the other units, or by the model."""
    if number.unit in ("degC", "degF"):
        return number.unit
    if number.hi > NOT_CELSIUS:
        return "degF"
    if candidates.degrees:
        return f"deg{candidates.degrees}"
    known = scale_of(candidates)
    if known:
        return known
    if number.hi < RARELY_FAHRENHEIT:
        return "degC"
    return owned.unit_class if owned.unit_class in ("degC", "degF") else "degC"


def scale_of(candidates: Candidates) -> str | None:
    """The scale that goes with the narration's other units.

    A keeper who says litres may well say pounds; one who says degrees Fahrenheit says no
    litres. So units of the first sort decide alone.
    """
    scales = trade_file("bounds")["scales"]
    said = {scales[q.unit] for q in candidates.quantities if q.unit in scales}
    if "degC" in said:
        return "degC"
    return "degF" if said else None
