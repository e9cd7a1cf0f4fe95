"""A second opinion: another model hears the stretches that matter, and must agree.

Whisper is as sure of "50" for "fifteen" as of a number that is right; its own word
probability finds bad words but not bad numbers. Two models seldom make the same mistake,
so a number, unit or "not" on which they differ is a doubt, with both readings.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.sites import bare, number_in
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.types import Doubt, Reading

AROUND = 1  # words on each side of a place where only the other model heard a number


@dataclass(frozen=True, slots=True)
class _Token:
    """A word as it is compared, and the word it came from."""

    text: str
    word: int


@dataclass(frozen=True, slots=True)
class Run:
    """A run of two texts that is the same in both, or is not: the words its parts came from."""

    same: bool
    ours: tuple[int, ...]
    theirs: tuple[int, ...]
    gap: int  # our word that comes next, where there is none of ours


def compare(ours: Sequence[str], theirs: Sequence[str]) -> list[Run]:
    """Two texts side by side; numbers are the same however they are written."""
    left, right = _tokens(ours), _tokens(theirs)
    matcher = SequenceMatcher(None, [t.text for t in left], [t.text for t in right], autojunk=False)
    return [
        Run(
            tag == "equal",
            tuple(t.word for t in left[i1:i2]),
            tuple(t.word for t in right[j1:j2]),
            left[i1].word if i1 < len(left) else len(ours),
        )
        for tag, i1, i2, j1, j2 in matcher.get_opcodes()
    ]


def matters(word: str, vocabulary: Vocabulary) -> str:
    """The kind of doubt a word would give: "number", "unit", "word"; empty: it does not matter."""
    if number_in(word) is not None or re.search(r"\d", word):
        return "number"
    text = bare(word)
    if text in vocabulary.units or text.removesuffix("s") in vocabulary.units:
        return "unit"
    return "word" if text in vocabulary.critical else ""


def any_matters(words: Sequence[str], vocabulary: Vocabulary) -> bool:
    """Whether a stretch is worth a second hearing."""
    return any(matters(word, vocabulary) for word in words)


def disagreements(words: Sequence[Timed], other: str, vocabulary: Vocabulary) -> list[Doubt]:
    """Where `other` (the second model's text) differs in a word that matters."""
    theirs = other.split()
    doubts = []
    for run in compare([w.word for w in words], theirs):
        if run.same or not words:
            continue
        ours = _span(run, len(words))
        said = theirs[run.theirs[0] : run.theirs[-1] + 1] if run.theirs else []
        kinds = [matters(w.word, vocabulary) for w in words[slice(*ours)]] if run.ours else []
        kinds += [k for w in said if (k := matters(w, vocabulary)) == "number"]
        kind = next((k for k in ("number", "unit", "word") if k in kinds), None)
        if kind is not None:
            doubts.append(_doubt(words, ours, said, kind))
    return doubts


def names_another(doubt: Doubt, vocabulary: Vocabulary) -> bool:
    """Whether the second model heard a label of the register there that the first did not.

    Where the sound has been asked about every label, "five, the" for "hive A" says nothing.
    """
    ours, theirs = (_labels(r.text, vocabulary) for r in doubt.readings[:2])
    return bool(theirs - ours)


def _labels(text: str, vocabulary: Vocabulary) -> set[str]:
    words = [str(n) if (n := number_in(w)) is not None else bare(w) for w in text.split()]
    return {label for label in vocabulary.labels if label.lower() in words}


def _span(run: Run, count: int) -> tuple[int, int]:
    """The words [first, last) of ours; around the gap where we have none."""
    if run.ours:
        return min(run.ours), max(run.ours) + 1
    return max(0, run.gap - AROUND), min(count, run.gap + AROUND)


def _doubt(words: Sequence[Timed], ours: tuple[int, int], said: list[str], kind: str) -> Doubt:
    here = words[ours[0] : ours[1]]
    heard = " ".join(w.word for w in here)
    sure = sum(w.probability for w in here) / len(here)
    # The second model's score is not comparable; it is put one nat below the first's.
    readings = (Reading(heard, round(sure, 3)), Reading(" ".join(said), round(sure - 1.0, 3)))
    return Doubt(here[0].start, here[-1].end, kind, heard, readings)


def _tokens(words: Sequence[str]) -> list[_Token]:
    """Words as they are compared: numbers in digits, no plural, ratios and labels apart."""
    out = []
    for i, word in enumerate(words):
        number = number_in(word)
        if number is not None:
            out.append(_Token(str(number), i))
            continue
        for part in re.findall(r"\d+|[a-z']+", bare(word).replace(":", " to ")):
            inner = number_in(part)
            text = part if inner is None else str(inner)
            out.append(_Token(text.removesuffix("s") if len(text) > 3 else text, i))
    return out
