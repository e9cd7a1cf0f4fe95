"""Fifteen or fifty, "for gallons" or four? What sounds alike is weighed on the sound.

Beam search writes one of them and is sure of it; the decoder, asked for each with the
words before and after, often is not. A small lead is a doubt; what fits clearly better
takes the place, with a doubt too.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.labels import Judge
from fieldvoice.hearing.sites import bare, number_in
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.types import Doubt, Reading, Stretch

AFTER = 2  # words after the number that must fit too
CLOSE = 3.0  # nats; a smaller lead than this is a doubt
CLEAR = 1.0  # nats by which another number must lead to take the place
NEAR = 5.0  # nats behind the heard number, alone, up to which another is weighed with what follows
RIVALS = 2  # other numbers that are weighed
COMMON = (*range(1, 21), *range(30, 100, 10))  # what a number may be taken for
COUNTED = -5.0  # the same for "for gallons", which is hardly English; it is a doubt all the same
REACH = 2  # words after a sound-alike among which the thing it counts must stand


def twin(number: int) -> int | None:
    """The number that sounds alike: 15 and 50, 115 and 150; None: it has none."""
    rest, tail = number // 100 * 100, number % 100
    if 13 <= tail <= 19:
        return rest + (tail - 10) * 10
    if tail % 10 == 0 and 30 <= tail <= 90:
        return rest + tail // 10 + 10
    return None


def worth_weighing(words: Sequence[Timed], at: int, vocabulary: Vocabulary) -> bool:
    """Whether a word is a number, or sounds like one and stands before what is counted."""
    return number_in(words[at].word) is not None or _as_number(words, at, vocabulary) is not None


def weigh_alike(
    words: Sequence[Timed], judge: Judge, vocabulary: Vocabulary, skip: Sequence[Stretch] = ()
) -> tuple[list[Timed], list[Doubt]]:
    """The words, and a doubt for each number that another fits nearly as well, or better.

    `words` are as they were decoded, with their tokens. Words in `skip` are left alone:
    labels are weighed against their register.
    """
    out = list(words)
    doubts = []
    after = judge.lead
    for i, word in enumerate(words):
        if not any(s.start < word.end and word.start < s.end for s in skip):
            others = _others(words, i, after, judge, vocabulary)
            if others:
                out[i], found = _weighed(words, i, after, judge, others, vocabulary)
                named = opens_clause(words, i) and number_in(word.word) in _labels(vocabulary)
                doubts += [replace(d, kind="label") if named else d for d in found]
        after += len(word.tokens)
    return out, doubts


def _others(
    words: Sequence[Timed], at: int, after: int, judge: Judge, vocabulary: Vocabulary
) -> list[str]:
    """What the word may be instead, as it would be written."""
    word = words[at].word
    number = number_in(word)
    if number is None:
        alike = _as_number(words, at, vocabulary)
        return [] if alike is None else [_written(word, alike)]
    others = [_written(word, n)] if (n := twin(number)) is not None else []
    may_be = _labels(vocabulary) if opens_clause(words, at) else COMMON
    if number in may_be and re.fullmatch(r"\W*\d+\W*", word):
        ranked = dict(zip(may_be, judge.rank(after, [str(n) for n in may_be]), strict=True))
        near = sorted(may_be, key=lambda n: -ranked[n])[: RIVALS + 1]
        others += [
            _written(word, n) for n in near if n != number and ranked[n] > ranked[number] - NEAR
        ]
    return list(dict.fromkeys(others))


def opens_clause(words: Sequence[Timed], at: int) -> bool:
    """Whether a number stands alone in its clause: "next, 20, five frames"; it is a label then."""
    before = words[at - 1].word if at else "."
    return before[-1:] in ".,;:?!" and words[at].word[-1:] in ".,;:"


def _labels(vocabulary: Vocabulary) -> tuple[int, ...]:
    return tuple(int(label) for label in vocabulary.labels if label.isdigit())


def _as_number(words: Sequence[Timed], at: int, vocabulary: Vocabulary) -> int | None:
    """The number that a common word sounds like, if something counted comes soon after."""
    number = vocabulary.alike.get(bare(words[at].word))
    if number is None or words[at].word[-1:] in ".,;:?!":
        return None
    if at + 1 < len(words) and number_in(words[at + 1].word) is not None:
        return None  # "for 13 days": nobody says "four thirteen days"
    for word in words[at + 1 : at + 1 + REACH]:
        if _is_counted(word.word, vocabulary):
            return number
        if word.word[-1:] in ".,;:?!":
            return None
    return None


def _is_counted(word: str, vocabulary: Vocabulary) -> bool:
    text = bare(word)
    return text in vocabulary.counted or (text[-1:] == "s" and text[:-1] in vocabulary.units)


def _weighed(
    words: Sequence[Timed],
    at: int,
    after: int,
    judge: Judge,
    others: Sequence[str],
    vocabulary: Vocabulary,
) -> tuple[Timed, list[Doubt]]:
    """The word or what fits better, and a doubt unless the word leads by far."""
    word = words[at]
    rest = " ".join(w.word for w in words[at + 1 : at + 1 + AFTER])
    texts = [word.word, *others]
    scores = judge.weigh(after, texts, rest)
    best, rival = scores[0], max(scores[1:])
    now = word.word
    hurdle = CLEAR if number_in(word.word) is not None else 0.0
    if hurdle == 0.0 and _is_counted(words[at + 1].word, vocabulary):
        hurdle = COUNTED
    elif best - rival >= CLOSE:
        return word, []
    if rival - best > hurdle:
        now = texts[scores.index(rival, 1)]
    ranked = sorted(zip(texts, scores, strict=True), key=lambda pair: (pair[0] != now, -pair[1]))
    readings = tuple(Reading(text, round(score, 2)) for text, score in ranked[:3])
    return replace(word, word=now), [Doubt(word.start, word.end, "number", now, readings)]


def _written(word: str, number: int) -> str:
    """`number` in digits with the signs that stood around the word."""
    core = word.strip(" .,;:?!\"'-")
    return word.replace(core, str(number), 1)
