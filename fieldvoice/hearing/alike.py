"""Fifteen or fifty, "for gallons" or four? What sounds alike is weighed on the sound.

Beam search writes one of them and is sure of it; the decoder, asked for each with the
words before and after, often is not. What the second model thinks of each is added. A
small lead is a doubt; what fits clearly better takes the place, with a doubt too.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fieldvoice.hearing.beside import Beside, writings
from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.labels import Judge
from fieldvoice.hearing.sites import SIGNS, bare, number_in
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.types import Doubt, Reading, Stretch

AFTER = 2  # words after the number that must fit too
CLOSE = 3.0  # nats; a smaller lead than this is a doubt
CLEAR = 1.0  # nats by which another number must lead to take the place
BOTH_CLOSE = 6.0  # the same two where a second model has its say: nats of both are added
BOTH_CLEAR = 0.0
TWIN_CLOSE = 12.0  # numbers that sound alike are mistaken for each other by both at once
NEAR = 5.0  # nats behind the heard number, alone, up to which another is weighed with what follows
RIVALS = 2  # other numbers that are weighed
COMMON = (*range(1, 21), *range(30, 100, 10))  # what a number may be taken for
COUNTS = range(1, 13)  # what a word may be taken for that sounds like no number
COUNTED = -5.0  # the same for "for gallons", which is hardly English; it is a doubt all the same
SUSPECT = 12.0  # nats by which another word may fit better than a number before what is counted
REACH = 2  # words after a sound-alike among which the thing it counts must stand


def twin(number: int) -> int | None:
    """The number that sounds alike: 15 and 50, 115 and 150; None: it has none."""
    rest, tail = number // 100 * 100, number % 100
    if 13 <= tail <= 19:
        return rest + (tail - 10) * 10
    if tail % 10 == 0 and 30 <= tail <= 90:
        return rest + tail // 10 + 10
    return None


def worth_weighing(
    words: Sequence[Timed], at: int, vocabulary: Vocabulary, *, both: bool = False
) -> bool:
    """Whether a word is a number, or sounds like one and stands before what is counted.

    `both`: two models can be asked; then any word may be a number that stands there.
    """
    if number_in(words[at].word) is not None:
        return True
    known = both or bare(words[at].word) in vocabulary.alike
    return known and _may_count(words, at, vocabulary)


def weigh_alike(
    words: Sequence[Timed],
    judge: Judge,
    vocabulary: Vocabulary,
    skip: Sequence[Stretch] = (),
    second: Beside | None = None,
) -> tuple[list[Timed], list[Doubt]]:
    """The words, and a doubt for each number that another fits nearly as well, or better.

    `words` are as they were decoded, with their tokens. Words in `skip` are left alone:
    labels are weighed against their register.
    """
    out = list(words)
    doubts = []
    after = judge.lead
    for i, word in enumerate(words):
        counted = i and number_in(out[i - 1].word) is not None and number_in(word.word) is None
        if not counted and not any(s.start < word.end and word.start < s.end for s in skip):
            place = _Place(words, i, after, judge, vocabulary, second)
            others = place.others()
            if others:
                out[i], found = place.weighed(others)
                named = opens_clause(words, i) and number_in(word.word) in _labels(vocabulary)
                doubts += [replace(d, kind="label") if named else d for d in found]
        after += len(word.tokens)
    return out, doubts


@dataclass(frozen=True, slots=True)
class _Place:
    """One word of a window, and those who are asked about it."""

    words: Sequence[Timed]
    at: int
    after: int  # tokens before it
    judge: Judge
    vocabulary: Vocabulary
    second: Beside | None

    @property
    def word(self) -> str:
        return self.words[self.at].word

    def others(self) -> list[str]:
        """What the word may be instead, as it would be written."""
        number = number_in(self.word)
        theirs = self.second.word(self.at) if self.second else None
        heard = None if theirs is None else number_in(theirs)
        if number is None:
            return self._numbers(heard)
        others = [n for n in (twin(number), heard) if n is not None]
        may_be = _labels(self.vocabulary) if opens_clause(self.words, self.at) else COMMON
        if number in may_be and re.fullmatch(r"\W*\d+\W*", self.word):
            ranked = self._ranked([str(n) for n in may_be])
            near = sorted(ranked, key=lambda text: -ranked[text])[: RIVALS + 1]
            others += [int(t) for t in near if ranked[t] > ranked[str(number)] - NEAR]
        return [_written(self.word, n) for n in dict.fromkeys(others) if n != number]

    def _numbers(self, heard: int | None) -> list[str]:
        """The numbers that a word may be which is none: what it sounds like, what fits best."""
        alike = self.vocabulary.alike.get(bare(self.word))
        counts = _may_count(self.words, self.at, self.vocabulary)
        texts = [str(alike)] if counts and alike is not None else []
        texts += writings(heard)[:2] if heard is not None else ()
        if counts and alike is None and self.second is not None:
            ranked = self._ranked([text for n in COUNTS for text in writings(n)[:2]])
            texts += sorted(ranked, key=lambda text: -ranked[text])[:RIVALS]
        return [_put(self.word, text) for text in dict.fromkeys(texts)]

    def _ranked(self, texts: Sequence[str]) -> dict[str, float]:
        ranked = dict(zip(texts, self.judge.rank(self.after, texts), strict=True))
        return {text: score + (self._chance(text) or 0.0) for text, score in ranked.items()}

    def _chance(self, text: str) -> float | None:
        return None if self.second is None else self.second.chance(self.at, text)

    def weighed(self, others: Sequence[str]) -> tuple[Timed, list[Doubt]]:
        """The word or what fits better, and a doubt unless the word leads by far."""
        word = self.words[self.at]
        rest = " ".join(w.word for w in self.words[self.at + 1 : self.at + 1 + AFTER])
        chances = {text: self._chance(text) for text in (word.word, *others)}
        both = chances[word.word] is not None
        texts = [text for text, chance in chances.items() if not both or chance is not None]
        if len(texts) == 1:
            return word, []
        scores = self.judge.weigh(self.after, texts, rest)
        if both:
            scores = [s + (chances[t] or 0.0) for t, s in zip(texts, scores, strict=True)]
        rival = max(range(1, len(scores)), key=scores.__getitem__)
        clear, close = self._margins(texts[rival], both=both)
        lead = scores[0] - scores[rival]
        if lead >= close:
            return word, []
        now = texts[rival] if -lead > clear else word.word
        ranked = sorted(
            zip(texts, scores, strict=True), key=lambda pair: (pair[0] != now, -pair[1])
        )
        once = {number_in(text) or text: (text, score) for text, score in reversed(ranked)}
        best = sorted(once.values(), key=ranked.index)
        readings = tuple(Reading(text, round(score, 2)) for text, score in best[:3])
        return replace(word, word=now), [Doubt(word.start, word.end, "number", now, readings)]

    def _margins(self, rival: str, *, both: bool) -> tuple[float, float]:
        """By how much the rival must lead to take the place, and the lead that leaves no doubt."""
        number = number_in(self.word)
        if number is None:
            if bare(self.word) not in self.vocabulary.alike:
                return BOTH_CLEAR, SUSPECT
            if _is_counted(self.words[self.at + 1].word, self.vocabulary):
                return COUNTED, math.inf
            return 0.0, CLOSE
        if not both:
            return CLEAR, CLOSE
        return BOTH_CLEAR, TWIN_CLOSE if twin(number) == number_in(rival) else BOTH_CLOSE


def opens_clause(words: Sequence[Timed], at: int) -> bool:
    """Whether a number stands alone in its clause: "next, 20, five frames"; it is a label then."""
    before = words[at - 1].word if at else "."
    return before[-1:] in ".,;:?!" and words[at].word[-1:] in ".,;:"


def _labels(vocabulary: Vocabulary) -> tuple[int, ...]:
    return tuple(int(label) for label in vocabulary.labels if label.isdigit())


def _may_count(words: Sequence[Timed], at: int, vocabulary: Vocabulary) -> bool:
    """Whether a word that is no number stands where one would: what is counted comes soon after.

    Not where a number stands beside it already: nobody says "four thirteen days".
    """
    near = words[max(0, at - 1) : at + 2]
    if words[at].word[-1:] in ".,;:?!" or any(number_in(w.word) is not None for w in near):
        return False
    for word in words[at + 1 : at + 1 + REACH]:
        if _is_counted(word.word, vocabulary):
            return True
        if word.word[-1:] in ".,;:?!":
            return False
    return False


def _is_counted(word: str, vocabulary: Vocabulary) -> bool:
    text = bare(word)
    return text in vocabulary.counted or (text[-1:] == "s" and text[:-1] in vocabulary.units)


def _written(word: str, number: int) -> str:
    """`number` as the word was written, with the signs that stood around it."""
    texts = writings(number)
    digits = any(map(str.isdigit, word)) or len(texts) == 1
    return _put(word, texts[0] if digits else texts[1])


def _put(word: str, text: str) -> str:
    """`text` with the signs that stood around the word."""
    return word.replace(word.strip(SIGNS), text, 1)
