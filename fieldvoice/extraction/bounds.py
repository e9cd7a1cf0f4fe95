"""Whether a value is one that a yard can have."""

from __future__ import annotations

from fieldvoice.trade.load import trade_file
from fieldvoice.types import Value


def out_of_range(value: Value) -> bool:
    """Whether the value leaves the bounds that trade/bounds.toml gives for its role and unit."""
    bounds = trade_file("bounds")["values"].get(f"{value.role} {value.unit}")
    if bounds is None:
        return False
    low, high = bounds
    return bool(value.lo < low or value.hi > high)
