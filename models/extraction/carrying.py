"""Carry a narration's labels over to what a recogniser wrote for it, word by word."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import jiwer
import numpy as np
from num2words import num2words
from rapidfuzz import fuzz, process
from whisper.normalizers import EnglishTextNormalizer
from whisper.normalizers.english import EnglishSpellingNormalizer

from fieldvoice.extraction.quantities import Quantity, find_quantities
from fieldvoice.trade.load import trade_file

Row = dict[str, Any]

WORST = 0.35  # word error rate of a narration
LOST = 0.6  # share of a quote's letters
ALIKE = 0.4  # two words at least as alike are one word, misheard
GAP = 0.6  # cost of a word too many or too few
OTHER = 1.3  # cost of a wholly different word, a little more than one lost and one added
WRITTEN = {  # "fifty two" -> "52", "third" -> "3rd"
    num2words(n, to=said).replace("-", " "): num2words(n, to="ordinal_num") if ordinal else str(n)
    for n in range(100)
    for ordinal, said in enumerate(("cardinal", "ordinal"))
}
SIGNS = {"°": "degrees", "%": "percent"}
TOKEN = re.compile(
    "|".join(said.replace(" ", r"[\s-]") + r"\b" for said in WRITTEN if " " in said)
    + r"|[°%]|[^\W_]+(?:[.'’/:][^\W_]+)*",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Token:
    """A word and its place in a text; `norm` is equal where a word is only written otherwise."""

    start: int
    end: int
    norm: str


def tokens_of(text: str) -> list[Token]:
    """Words without punctuation, hyphens parted; spoken numbers below a hundred are one token."""
    spelling = EnglishSpellingNormalizer()
    out = []
    for match in TOKEN.finditer(text):
        word = re.sub(r"[\s-]", " ", match[0].lower().replace("’", "'"))
        norm = WRITTEN.get(word) or SIGNS.get(word) or spelling(word)
        out.append(Token(match.start(), match.end(), norm))
    return out


def align(said: Sequence[Token], heard: Sequence[Token]) -> list[int | None]:
    """For each word said, the word heard in its place, by the cheapest edit of one into the other."""
    alike = process.cdist([t.norm for t in said], [t.norm for t in heard], scorer=fuzz.ratio) / 100
    cost = np.zeros((len(said) + 1, len(heard) + 1))
    cost[:, 0], cost[0] = GAP * np.arange(len(said) + 1), GAP * np.arange(len(heard) + 1)
    for i in range(1, len(said) + 1):
        for j in range(1, len(heard) + 1):
            swap = cost[i - 1, j - 1] + OTHER * (1 - alike[i - 1, j - 1])
            cost[i, j] = min(swap, cost[i - 1, j] + GAP, cost[i, j - 1] + GAP)
    out: list[int | None] = [None] * len(said)
    i, j = len(said), len(heard)
    while i and j:
        if cost[i, j] == cost[i - 1, j - 1] + OTHER * (1 - alike[i - 1, j - 1]):
            i, j = i - 1, j - 1
            out[i] = j
        elif cost[i, j] == cost[i - 1, j] + GAP:
            i -= 1
        else:
            j -= 1
    return out


class Carrier:
    """Said and heard text, aligned: places of the one become places of the other."""

    def __init__(self, said: str, heard: str) -> None:
        self.said, self.heard = said, heard
        self.said_tokens, self.heard_tokens = tokens_of(said), tokens_of(heard)
        self.mate = align(self.said_tokens, self.heard_tokens)
        self.numbers = find_quantities(said), find_quantities(heard)

    def touched(self, start: int, end: int) -> range:
        """Indexes of the said words in these characters."""
        inside = [i for i, t in enumerate(self.said_tokens) if t.end > start and t.start < end]
        return range(inside[0], inside[-1] + 1) if inside else range(0)

    def likeness(self, i: int) -> float:
        """How much of a said word was heard, 0 to 1."""
        mate = self.mate[i]
        if mate is None:
            return 0.0
        return fuzz.ratio(self.said_tokens[i].norm, self.heard_tokens[mate].norm) / 100

    def kept(self, words: range) -> float:
        """How many of the letters of these words were heard, 0 to 1."""
        sizes = [len(self.said_tokens[i].norm) for i in words]
        return sum(n * self.likeness(i) for n, i in zip(sizes, words, strict=True)) / max(
            1, sum(sizes)
        )

    def place(self, words: range) -> tuple[int, int] | None:
        """Characters of the heard text in the place of these said words."""
        mates = [(i, m) for i in words if (m := self.mate[i]) is not None]
        if not mates:
            return None
        (i, first), (j, last) = mates[0], mates[-1]
        taken = set(self.mate)
        # "nuc" heard as "new k": what was added beside a misheard word belongs to it.
        while self.likeness(i) < 1 and first - 1 not in taken and first > 0:
            first -= 1
        while self.likeness(j) < 1 and last + 1 not in taken and last + 1 < len(self.heard_tokens):
            last += 1
        return self.heard_tokens[first].start, self.heard_tokens[last].end

    def changed(self, words: range) -> list[tuple[int, int]]:
        """Runs of said words that were heard as others or not at all: first and last index."""
        runs: list[tuple[int, int]] = []
        for i in words:
            if self.likeness(i) < 1:
                joins = bool(runs) and runs[-1][1] == i - 1
                runs.append((runs.pop()[0] if joins else i, i))
        return runs

    def row(self, row: Row, at: int, dropped: Counter[str]) -> Row | None:
        """A row with the heard words in quote and values; None if too little was heard."""
        words = self.touched(at, at + len(row["quote"]))
        place = self.place(words)
        if place is None or 1 - self.kept(words) > LOST:
            dropped["rows, words lost"] += 1
            return None
        if self._thing_lost(row["item"], words):
            dropped["rows, thing lost"] += 1
            return None
        values = [v for value in row["values"] if (v := self._value(value, at, len(row["quote"])))]
        dropped["values"] += len(row["values"]) - len(values)
        dropped["rows kept"] += 1
        flags = list(row["flags"])
        if "respelled" not in flags and any(self._misheard(i) for i in words):
            flags.append("respelled")
        quote = self.heard[place[0] : place[1]]
        return {**row, "values": values, "quote": quote, "flags": flags}

    def _thing_lost(self, item: str, words: range) -> bool:
        names = {_singular(w) for w in re.findall(r"\w+", item.lower())} - {"hive"}
        naming = [i for i in words if _singular(self.said_tokens[i].norm) in names]
        return bool(naming) and all(self.likeness(i) < ALIKE for i in naming)

    def _misheard(self, i: int) -> bool:
        """Whether a word of the trade was heard as another word; "goldenrod" holds "golden"."""
        said, mate = _singular(self.said_tokens[i].norm), self.mate[i]
        if mate is None or said not in trade_words():
            return False
        heard = self.heard_tokens[mate].norm
        return said != _singular(heard) and said not in heard

    def _value(self, value: Row, at: int, length: int) -> Row | None:
        """The value with the words it was heard in, if its number came through."""
        spots = [
            m.start() for m in re.finditer(re.escape(value["said"].lower()), self.said.lower())
        ]
        if not spots:
            return None
        # In the quote if it is there, else nearest to it.
        start = min(spots, key=lambda s: (not at <= s < at + length, abs(s - at)))
        words = self.touched(start, start + len(value["said"]))
        place = self.place(words)
        if place is None:
            return None
        before = list(_within(self.numbers[0], start, start + len(value["said"])))
        after = list(_within(self.numbers[1], *place))
        if before:
            came_through = any(_same(a, b) for a in before for b in after)
        else:  # "same mix"
            came_through = self.kept(words) >= 1 - LOST
        if not came_through:
            return None
        return {**value, "said": self.heard[place[0] : place[1]]}


def _within(numbers: Sequence[Quantity], start: int, end: int) -> Iterator[Quantity]:
    return (q for q in numbers if q.start < end and q.end > start)


def _same(a: Quantity, b: Quantity) -> bool:
    return (a.lo, a.hi) == (b.lo, b.hi)


def _singular(word: str) -> str:
    return re.sub(r"('s|ies|s)$", lambda m: "y" if m[0] == "ies" else "", word)


@cache
def trade_words() -> frozenset[str]:
    """Every word of the trade's things, singular; short words belong to the language."""
    names: list[str] = []
    for things in trade_file("things").values():
        if isinstance(things, dict):
            names += [name for item, also in things.items() for name in (item, *also)]
    spelling = EnglishSpellingNormalizer()
    found = {_singular(spelling(w)) for name in names for w in re.findall(r"[a-z']+", name.lower())}
    return frozenset(w for w in found if len(w) > 3) | {"nuc", "egg"}


def carry(narration: Row, name: str, heard: str, dropped: Counter[str]) -> Row | None:
    """The narration in the heard words; None if it was heard too badly."""
    normal = EnglishTextNormalizer()
    if jiwer.wer(normal(narration["text"]), normal(heard)) >= WORST:
        dropped["narrations"] += 1
        return None
    carrier, rows, after = Carrier(narration["text"], heard), [], 0
    for row in narration["entries"]:
        at = narration["text"].find(row["quote"], max(0, after - 5))
        after = at if at >= 0 else narration["text"].find(row["quote"])
        if new := carrier.row(row, after, dropped):
            rows.append(new)
    return {**narration, "id": name, "text": heard, "entries": rows}
