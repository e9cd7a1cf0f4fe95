""" "Mid fifties", "the eighties", "low sixties"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.extraction.quantities.reading import Found, quote
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.unit_names import read_unit
from fieldvoice.extraction.quantities.vocabulary import Vocabulary
from fieldvoice.number_words import TENS

_DECADES = {w[:-1] + "ies": float(n) for w, n in TENS.items()}


PARTS_OF_DECADE = {
    "mid": (5, 5), "middle": (5, 5), "low": (1, 4), "lower": (1, 4), "early": (1, 4),
    "high": (6, 9), "upper": (6, 9), "late": (6, 9), "the": (0, 9),
}  # fmt: skip


def read_decade(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> Found | None:
    """ "Mid fifties" is 55, "upper forties" 46 to 49, "the eighties" 80 to 89."""
    low, high = PARTS_OF_DECADE[low_at(tokens, at)]
    i = at + 1 + (low_at(tokens, at + 1) == "-")
    word = low_at(tokens, i)
    base = _DECADES.get(word)
    if (
        base is None
        and tokens[at].low != "the"
        and word in ("20", "30", "40", "50", "60", "70", "80", "90")
        and low_at(tokens, i + 1) in ("s", "'s")
    ):
        base, i = float(word), i + 1
    if base is None:
        return None
    end = i + 1
    hit = read_unit(tokens, end, words, digits=False)
    found = quote(text, tokens, (at, hit[0] if hit else end), base, "measure" if hit else "number")
    return hit[0] if hit else end, replace(
        found, lo=base + low, hi=base + high, unit=hit[1] if hit else None, approx=True
    )
