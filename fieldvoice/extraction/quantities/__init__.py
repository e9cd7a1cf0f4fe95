"""Numbers as spoken: find_quantities() gives each one with its unit, shape and place."""

from fieldvoice.extraction.quantities.find import find_quantities
from fieldvoice.extraction.quantities.model import VALUE_SHAPES, Quantity

__all__ = ["VALUE_SHAPES", "Quantity", "find_quantities"]
