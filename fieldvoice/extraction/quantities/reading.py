"""A span of tokens turned into a Quantity."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.quantities.model import Quantity, Shape
from fieldvoice.extraction.quantities.tokens import Token

Found = tuple[int, Quantity]
"""The token to go on from, and what was found before it."""


def quote(
    text: str, tokens: Sequence[Token], span: tuple[int, int], value: float, shape: Shape
) -> Quantity:
    """An exact quantity without a unit, over the tokens of `span`."""
    start, end = tokens[span[0]].start, tokens[span[1] - 1].end
    return Quantity(start, end, value, value, None, shape=shape, approx=False, said=text[start:end])
