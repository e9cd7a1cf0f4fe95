"""A text as words, digits and signs, each with its place."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

DASHES = ("-", "–", "—", "‑", "~")


class Token(NamedTuple):
    """One word, number or sign. `low` is lower case; `glued`: no space before it."""

    low: str
    start: int
    end: int
    glued: bool
    kind: str  # "word", "digits", "ordinal", "glyph" (½), "mark"


_TOKEN = re.compile(
    r"""
    (?P<clock>o['’]clock\b|[ap]\.?m\b\.?(?<=[ap]\.m\.)|[ap]m\b)
  | (?P<ordinal>\d+(?:st|nd|rd|th)\b)
  | (?P<digits>\d{1,3}(?:,\d{3})+(?:\.\d+)?(?!\d)|\d+(?:\.\d+)?|(?<![\d.\w])\.\d+)
  | (?P<glyph>[½⅓⅔¼¾⅛⅜⅝⅞⅕])
  | (?P<word>[^\W\d_½⅓⅔¼¾⅛⅜⅝⅞⅕]+(?:\d[^\W_]*)?|['’][^\W\d_]+)
  | (?P<mark>\.\.\.|[^\w\s]|_)
    """,
    re.VERBOSE | re.IGNORECASE,
)


def tokenize(text: str) -> list[Token]:
    """Cut a text into tokens; a suffix after an apostrophe is a token of its own.

    >>> [t.low for t in tokenize("Hive 7's 2.5 qts, I'd say")]
    ['hive', '7', "'s", '2.5', 'qts', ',', 'i', "'d", 'say']
    """
    out: list[Token] = []
    last = -1
    for hit in _TOKEN.finditer(text):
        start, end = hit.span()
        kind = hit.lastgroup or "mark"
        low = hit.group().lower().replace("’", "'")
        out.append(Token(low, start, end, start == last, "word" if kind == "clock" else kind))
        last = end
    return out


def low_at(tokens: Sequence[Token], at: int) -> str:
    """The lower-case token at a place, or "" outside the text."""
    return tokens[at].low if 0 <= at < len(tokens) else ""


def starts_phrase(tokens: Sequence[Token], at: int, phrase: tuple[str, ...]) -> bool:
    """Whether the words of a phrase stand at a place."""
    if at < 0 or at + len(phrase) > len(tokens):
        return False
    return all(tokens[at + k].low == word for k, word in enumerate(phrase))
