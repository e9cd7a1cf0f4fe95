"""Numbers as spoken: find_quantities() gives each one with its unit, shape and place."""

from fieldvoice.extraction.quantities.convert import convert
from fieldvoice.extraction.quantities.find import find_quantities
from fieldvoice.extraction.quantities.model import VALUE_SHAPES, Quantity
from fieldvoice.extraction.quantities.vocabulary import build_vocabulary, vocabulary

__all__ = [
    "VALUE_SHAPES",
    "Quantity",
    "build_vocabulary",
    "convert",
    "find_quantities",
    "vocabulary",
]
