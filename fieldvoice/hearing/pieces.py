"""Numbers that were heard in pieces: "70, 5" is 75, "1, 100, 42" is 142, "eight een" is 18.

A talker who halts inside a number gets it back in parts. Parts are joined only if they
build a number the way it is said (hundreds, then tens, then units, each once), stand
side by side in one clause within a second, and the first is no label: "hive 20, five
frames" stays. Each join is a doubt with both readings, since nothing proves it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.sites import bare, number_in
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.types import Doubt, Reading

PAUSE = 1.0  # seconds between two parts at most
TEEN = ("een", "teen")


def join_pieces(words: Sequence[Timed], vocabulary: Vocabulary) -> tuple[list[Timed], list[Doubt]]:
    """The words with whole numbers, and a doubt for each number that was put together."""
    out: list[Timed] = []
    doubts: list[Doubt] = []
    at = 0
    while at < len(words):
        last, value = _run(words, at)
        if last > at + 1 and not _is_label(words, at, vocabulary):
            parts = words[at:last]
            sign = parts[-1].word[len(parts[-1].word.rstrip(".,;:?!")) :]
            whole = replace(
                parts[0],
                word=f"{value}{sign}",
                end=parts[-1].end,
                probability=min(p.probability for p in parts),
                tokens=(),
            )
            out.append(whole)
            heard = " ".join(p.word for p in parts)
            readings = (Reading(whole.word, 0.0), Reading(heard, -1.0))  # an order, no more
            doubts.append(Doubt(whole.start, whole.end, "number", whole.word, readings))
        else:
            out += words[at:last]
        at = last
    return out, doubts


def _run(words: Sequence[Timed], first: int) -> tuple[int, int]:
    """One past the last part of the number that begins at `first`, and its value."""
    value = _value(words[first].word)
    last = first + 1
    if value is None:
        return last, 0
    while last < len(words) and _beside(words[last - 1], words[last]):
        bigger = _extended(value, words[last].word)
        if bigger is None:
            break
        value, last = bigger, last + 1
    return last, value


def _extended(value: int, word: str) -> int | None:
    """`value` with one more part said after it; None if the two are two numbers."""
    if bare(word) in TEEN:
        return value + 10 if 3 <= value <= 9 else None
    part = _value(word)
    if part is None:
        return None
    if part == 100 and 1 <= value <= 9:
        return value * 100
    if value >= 100 and value % 100 == 0:
        return value + part if 1 <= part <= 99 else None
    if value >= 20 and value % 10 == 0:
        return value + part if 1 <= part <= 9 else None
    return None


def _value(word: str) -> int | None:
    return 100 if bare(word) == "hundred" else number_in(word)


def _beside(left: Timed, right: Timed) -> bool:
    """No more than a comma between them, and no long pause."""
    return left.word[-1:] not in ".;:?!" and right.start - left.end <= PAUSE


def _is_label(words: Sequence[Timed], at: int, vocabulary: Vocabulary) -> bool:
    """After a cue, or a label of the register that opens a clause: "next, 20, five frames"."""
    before = words[at - 1].word if at else ""
    if bare(before) in vocabulary.cues or bare(before) in vocabulary.firsts:
        return True
    opens = not before or before[-1] in ".,;:?!"
    return opens and str(_value(words[at].word)) in vocabulary.labels
