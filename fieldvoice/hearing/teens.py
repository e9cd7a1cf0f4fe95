"""Fifteen or fifty? Numbers that sound alike are weighed against each other on the sound.

Beam search writes one of them and is sure of it; the decoder, asked for both with the
words before and after, often is not. A small lead is a doubt; a number whose twin fits
clearly better gives way to it, with a doubt too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.labels import Judge
from fieldvoice.hearing.sites import number_in
from fieldvoice.types import Doubt, Reading, Stretch

AFTER = 2  # words after the number that must fit too
CLOSE = 3.0  # nats; a smaller lead than this is a doubt
CLEAR = 1.0  # nats by which a twin must lead to take the place


def twin(number: int) -> int | None:
    """The number that sounds alike: 15 and 50, 115 and 150; None: it has none."""
    rest, tail = number // 100 * 100, number % 100
    if 13 <= tail <= 19:
        return rest + (tail - 10) * 10
    if tail % 10 == 0 and 30 <= tail <= 90:
        return rest + tail // 10 + 10
    return None


def has_twin(word: str) -> bool:
    """Whether the word is a number that sounds like another."""
    number = number_in(word)
    return number is not None and twin(number) is not None


def weigh_twins(
    words: Sequence[Timed], judge: Judge, skip: Sequence[Stretch] = ()
) -> tuple[list[Timed], list[Doubt]]:
    """The words, and a doubt for each number whose twin fits nearly as well, or better.

    `words` are as they were decoded, with their tokens. Words in `skip` are left alone:
    labels are weighed against their register.
    """
    out = list(words)
    doubts = []
    after = judge.lead
    for i, word in enumerate(words):
        number = number_in(word.word)
        other = twin(number) if number is not None else None
        if other is not None and not any(s.start < word.end and word.start < s.end for s in skip):
            rest = " ".join(w.word for w in words[i + 1 : i + 1 + AFTER])
            texts = [_written(word.word, n) for n in (number, other)]
            score, rival = judge.weigh(after, texts, rest)
            if score - rival < CLOSE:
                readings = [Reading(word.word, round(score, 3)), Reading(texts[1], round(rival, 3))]
                if rival - score > CLEAR:
                    out[i] = replace(word, word=texts[1])
                    readings.reverse()
                doubts.append(Doubt(word.start, word.end, "number", out[i].word, tuple(readings)))
        after += len(word.tokens)
    return out, doubts


def _written(word: str, number: int | None) -> str:
    """`number` in digits with the signs that stood around the word."""
    core = word.strip(" .,;:?!\"'-")
    return word.replace(core, str(number), 1)
