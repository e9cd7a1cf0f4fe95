"""Words that only sound like a number: "too mites", "maybe for frames"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.extraction.quantities.context import around
from fieldvoice.extraction.quantities.reading import Found, quote
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.unit_names import read_unit
from fieldvoice.extraction.quantities.vocabulary import Vocabulary


def read_misheard(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> Found | None:
    """ "Too mites", "maybe for frames": a word that sounds like a number before a plural."""
    word, after = low_at(tokens, at), low_at(tokens, at + 1)
    if word not in words.sounds_like:
        return None
    value = words.sounds_like[word]
    hit = read_unit(tokens, at + 1, words, digits=False) if after.endswith(("s", "feet")) else None
    if word == "too":
        fits = hit is not None or after in words.sets["counted"]
    else:
        guess = low_at(tokens, at - 1) in ("maybe", "about", "roughly", "only", "nearly")
        fits = guess and word in ("for", "to", "ate", "tree") and after in words.sets["counted"]
    if not fits:
        return None
    end = hit[0] if hit else at + 1
    found = quote(text, tokens, (at, end), value, "measure" if hit else "number")
    approx = around(tokens, at, end, words).approx
    return end, replace(found, unit=hit[1] if hit else None, approx=approx, respelled=True)
