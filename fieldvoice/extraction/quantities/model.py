"""What the number grammar gives: a quantity with its place in the text."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shape = Literal[
    "number", "measure", "ratio", "share", "container", "count_aloud",
    "ordinal", "clock", "year", "label",
]  # fmt: skip

VALUE_SHAPES: frozenset[str] = frozenset(
    ("number", "measure", "ratio", "share", "container", "count_aloud")
)
"""Shapes that are a value; the others mark words that no value may be read from."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number as said. `start` and `end` are characters of the text, end exclusive.

    `lo == hi` unless a range was said. `unit` is a singular English name from units.toml,
    "sugar:water" or "part:part" for a ratio, "1" for a share of a whole, None where no
    unit word follows. A ratio's number is first over second.
    """

    start: int
    end: int
    lo: float
    hi: float
    unit: str | None
    approx: bool
    shape: Shape
    said: str
    bound: Literal["at least", "up to"] | None = None
    respelled: bool = False  # read from a word that only sounds like a number
