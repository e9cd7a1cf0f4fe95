"""The second model's words laid beside the first's, with what else it might have written.

A greedy search knows at each step how likely every token was, so what the second model
thinks of other numbers in the place of its own costs nothing. Only the words before that
place are in it, not those after.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from fieldvoice.hearing.engines import Opinion, Timed
from fieldvoice.hearing.second import compare
from fieldvoice.hearing.sites import SIGNS, number_in
from fieldvoice.number_words import CARDINALS

ASKED = (*range(101), *range(110, 200, 10), *range(113, 120), *range(200, 1000, 100))


@dataclass(frozen=True, slots=True)
class Beside:
    """What the second model heard, word for word where that can be."""

    opinion: Opinion
    place: Mapping[int, int]  # our word: their word

    def word(self, at: int) -> str | None:
        """What the second model heard for our word `at`; None: no single word stands there."""
        place = self.place.get(at)
        return None if place is None else self.opinion.words[place]

    def chance(self, at: int, text: str) -> float | None:
        """How likely a word, or a number however written, was in the place of our word `at`."""
        word = self.word(at)
        if word is None or (number_in(word) is None and re.search(r"\d", word)):
            return None  # "2:1" for two words of ours: its place is that of the first
        return self.chance_of(self.place[at], text)

    def chance_of(self, place: int, text: str) -> float | None:
        """The same, in the place of one of their words."""
        number = number_in(text)
        known = self.opinion.chances[place]
        texts = [text.strip(SIGNS)] if number is None else writings(number)
        found = [known[text] for text in texts if text in known]
        if not found:
            return None
        most = max(found)
        return most + math.log(sum(math.exp(one - most) for one in found))


@cache
def writings(number: int) -> tuple[str, ...]:
    """A number in digits and, where one word is enough, in letters."""
    letters = [word for word, value in CARDINALS.items() if value == number]
    return (str(number), *letters, *map(str.capitalize, letters))


def opening(label: str) -> str:
    """What of a label is said first after its cue: "A" of "A3", "2" of "nuc 2"."""
    name = label.split()[-1]
    return name if name.isdigit() else name[:1]


def to_ask(words: Sequence[Timed], labels: Sequence[str]) -> list[str]:
    """The texts whose chances are wanted of the second model: numbers, letters, our words."""
    numbers = [text for number in ASKED for text in writings(number)]
    letters = [opening(label) for label in labels]
    return list(dict.fromkeys([*numbers, *letters, *(w.word.strip(SIGNS) for w in words)]))


def beside(words: Sequence[Timed], opinion: Opinion) -> Beside:
    """Lay an opinion beside the words of the same window."""
    place: dict[int, int] = {}
    for run in compare([w.word for w in words], opinion.words):
        if len(run.ours) == len(run.theirs):
            for left, right in zip(run.ours, run.theirs, strict=True):
                place.setdefault(left, right)
    return Beside(opinion, place)
