"""One number by itself: an amount, a share of a whole, a bare count, or a hive's name."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.extraction.quantities.amounts import Amount, read_amount
from fieldvoice.extraction.quantities.context import around
from fieldvoice.extraction.quantities.marks import is_label
from fieldvoice.extraction.quantities.model import Quantity, Shape
from fieldvoice.extraction.quantities.reading import Found, quote
from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.vocabulary import Vocabulary

_NEXT_WORD = re.compile(r"\s+(\w+)")


def read_single(
    text: str, tokens: Sequence[Token], amount: Amount, words: Vocabulary
) -> Found | None:
    """What an amount already read stands for, with the words around it."""
    last = tokens[amount.end - 1]
    lettered = last.glued and last.kind == "word" and len(last.low) == 1
    if lettered and is_label(tokens, amount.first, amount.end, words):  # "hive 12C"
        span = (amount.first, amount.end)
        return amount.end, quote(text, tokens, span, amount.value, "label")
    shape: Shape = "measure" if amount.unit else "number"
    unit = amount.unit
    if amount.container:
        shape = "container"
    elif unit is None:
        if is_label(tokens, amount.first, amount.end, words):
            span = (amount.first, amount.end)
            return amount.end, quote(text, tokens, span, amount.value, "label")
        if one_in := _one_in(tokens, amount, words):
            found = quote(text, tokens, (amount.first, one_in[0]), one_in[1], "share")
            return one_in[0], replace(found, unit="1")
        if amount.kind == "fraction":
            reading = _fraction(tokens, amount, words)
            if reading is None:
                return None
            shape, unit = reading
    elif unit == "percent" and low_at(tokens, amount.end) in words.sets["share_words"] | {"of"}:
        shape = "share"
    context = around(tokens, amount.first, amount.end, words, measured=unit is not None)
    first, end = context.first, context.end
    found = quote(text, tokens, (first, end), amount.value, shape)
    return max(end, amount.end), replace(
        found, unit=unit, approx=amount.approx or context.approx, bound=context.bound,
        respelled=amount.respelled,
    )  # fmt: skip


_OF_WHOLE = ("the", "my", "those", "these", "this", "them", "its", "their", "our")


_PROSE = ("and", "on", "in", "at", "is", "with", "i", "or", "but", "to", "so", "now", "already")


_HALFWAY = ("about", "down", "than", "by", "only", "at", "roughly", "maybe", "over", "around", "is")


def _one_in(tokens: Sequence[Token], amount: Amount, words: Vocabulary) -> tuple[int, float] | None:
    """ "One in ten cells" is a share of 0.1."""
    if (
        amount.value != 1
        or low_at(tokens, amount.first) != "one"
        or low_at(tokens, amount.end) != "in"
    ):
        return None
    whole = read_amount(tokens, amount.end + 1, words)
    if whole is None or whole.unit or whole.kind != "cardinal" or whole.value < 2:
        return None
    return whole.end, 1 / whole.value


def _fraction(
    tokens: Sequence[Token], amount: Amount, words: Vocabulary
) -> tuple[Shape, str | None] | None:
    """What a fraction without a unit is: a share, part of a thing, or no number."""
    after, then = low_at(tokens, amount.end), low_at(tokens, amount.end + 1)
    if low_at(tokens, amount.first - 1) in ("first", "second", "better", "back"):
        return None  # "the second half of the season"
    counted = words.sets["counted"]
    if after in ("a", "an") or (after == "of" and then in ("a", "an", "one")):
        return "number", None
    if after in words.sets["share_words"] or after == "of":
        return "share", "1"
    word = low_at(tokens, amount.end - 1)
    if after in counted or after + "s" in counted or after + "es" in counted:
        return "number", None
    named = tokens[amount.first].low not in ("a", "an", "another", "half", "quarter")
    if word == "half" and after in _OF_WHOLE:
        return "share", "1"
    closes = not after or tokens[amount.end].kind == "mark"
    if named:
        plain = closes or after in _PROSE
        return ("share", "1") if plain else ("number", None)
    if word in ("half", "quarter") and closes and low_at(tokens, amount.first - 1) in _HALFWAY:
        return "share", "1"
    return None


def inherit_unit(
    found: Quantity, before: Sequence[Quantity], text: str, words: Vocabulary
) -> Quantity:
    """ "1/8 inch on the left, 3/8 on the right": a fraction takes the inch said before it."""
    if found.shape != "share" or found.unit != "1" or not before:
        return found
    last = before[-1]
    lengths = last.shape == "measure" and last.unit == "inch" and not last.lo.is_integer()
    if not lengths or "." in text[last.end : found.start]:
        return found
    after = _NEXT_WORD.match(text, found.end)
    if after and after[1].lower() in words.sets["share_words"] | {"of"}:
        return found
    return replace(found, unit="inch", shape="measure")
