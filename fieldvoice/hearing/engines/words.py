"""Punctuation belongs to the word it stands at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fieldvoice.hearing.engines import Timed

OPENING = "\"'“¿([{-$£€#"
CLOSING = "\"'.。,，!！?？:：”)]}、%°"


def merge(words: Iterable[Timed]) -> list[Timed]:
    """Join opening signs to the word after them and closing ones to the word before.

    A word that does not begin with a space goes on from the one before it ("70" "%",
    "2" ":1"); Whisper's tokenizers parts them there though they were said as one.
    """
    out: list[Timed] = []
    for word in words:
        if not word.word.strip():
            continue
        joins = out and (
            not word.word.startswith(" ")
            or (word.word.strip() in CLOSING and word.word.strip() not in OPENING)
            or (out[-1].word.strip() in OPENING and out[-1].word.startswith(" "))
        )
        if joins:
            out[-1] = _join(out[-1], word)
        else:
            out.append(word)
    return [replace(w, word=w.word.strip()) for w in out if any(map(str.isalnum, w.word))]


def _join(left: Timed, right: Timed) -> Timed:
    """One word over both; signs alone have no say in the time or the probability."""
    if not any(map(str.isalnum, right.word)):
        timed = left
    elif not any(map(str.isalnum, left.word)):
        timed = right
    else:
        timed = replace(left, end=right.end, probability=min(left.probability, right.probability))
    return replace(timed, word=left.word + right.word, tokens=left.tokens + right.tokens)
