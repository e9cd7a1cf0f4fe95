"""Frames, seams and boxes as bees and honey; what honey weighs and how wet it is.

Bees on a frame and honey in a frame are ranges: the sources differ by a factor of two.
"""

from __future__ import annotations

from itertools import pairwise

from fieldvoice.answers.units import in_unit
from fieldvoice.errors import InputError
from fieldvoice.trade.load import trade_file

Range = tuple[float, float]


def bees_on(frames: Range) -> Range:
    """Bees on so many deep frames covered on both sides, from the lowest to the highest source.

    >>> bees_on((8, 8))
    (11200, 24000)
    """
    low, high = trade_file("counts")["frame"]["deep"]["bees"]
    return frames[0] * low, frames[1] * high


def honey_in(frames: Range, depth: str | None) -> Range:
    """Pounds of honey in full frames; of unknown depth, from the shallowest to the deepest."""
    frame = trade_file("counts")["frame"]
    depths = [depth] if depth in frame else list(frame)
    pounds = [frame[name]["honey_pounds"] for name in depths]
    return frames[0] * min(p[0] for p in pounds), frames[1] * max(p[1] for p in pounds)


def honey_in_boxes(boxes: Range, depth: str) -> Range:
    """Gross pounds of full ten-frame boxes of a depth: wood, comb and honey."""
    low, high = trade_file("counts")["box"][depth]
    return boxes[0] * low, boxes[1] * high


def honey_density(moisture: float) -> float:
    """kg per litre of honey with so much percent water, between the points of the table.

    Raises:
        InputError: outside the table.

    >>> round(honey_density(18), 4)
    1.4145
    """
    points = sorted((float(w), g) for w, g in trade_file("counts")["honey"]["gravity"].items())
    for (dry, heavy), (wet, light) in pairwise(points):
        if dry <= moisture <= wet:
            gravity = heavy + (light - heavy) * (moisture - dry) / (wet - dry)
            return float(gravity) * 0.9982  # specific gravity 20/20 is over water at 20 C
    raise InputError(
        f"There is no figure for honey with {moisture:g} % water "
        f"(only {points[0][0]:g} to {points[-1][0]:g} %); weigh it."
    )


def honey_pounds(gallons: float, moisture: float) -> float:
    """What US gallons of honey weigh, in pounds."""
    return in_unit(
        in_unit(gallons, "gallon", "litre") * honey_density(moisture), "kilogram", "pound"
    )


def moisture_at_20(read: float, correction: float) -> float:
    """A refractometer's reading put right by the value on its side scale.

    >>> round(moisture_at_20(18.2, -0.5), 1)
    17.7
    """
    return read + correction


def moisture_says(percent: float) -> str:
    """What published limits make of so much water, as their own words name them."""
    limits = trade_file("counts")["moisture"]
    kept = [f"within {m['most']:g} % ({m['says']})" for m in limits if percent <= m["most"]]
    over = [f"over {m['most']:g} % ({m['says']})" for m in limits if percent > m["most"]]
    return "; ".join(over + kept)


def trickle_volume(per_seam: float, seams: float) -> float:
    """The volume that a label's amount for each seam comes to; the label's limit stands above it."""
    return per_seam * seams
