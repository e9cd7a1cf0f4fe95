"""What corrections teach: which words were misheard for which.

Twice the same correction and the words are put right in the next recording; once is
chance. The keeper's own word goes before that, either way.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher

from fieldvoice.logbook.learnt import corrected_rows, decided_respellings
from fieldvoice.logbook.opening import Logbook
from fieldvoice.types import Entry

TIMES = 2  # corrections that make it no chance
ALIKE = 60.0  # of 100: how like a thing's name the words must look to have been it
REWORDED = 45.0  # the same where the keeper has written the words anew: less doubt, less needed
_LONGEST = 3  # words that one mishearing spans


@dataclass(frozen=True, slots=True)
class Respelling:
    """Words that were heard for others."""

    heard: str
    meant: str
    times: int  # corrections that show it
    used: bool  # put right in the next recording
    decided: bool  # by the keeper, and not by counting


def learnt(logbook: Logbook) -> tuple[Respelling, ...]:
    """All that the corrections in this logbook teach, most seen first."""
    return respellings(corrected_rows(logbook), decided_respellings(logbook))


def respellings(
    corrected: Iterable[tuple[Entry, Entry]], decided: Mapping[tuple[str, str], bool]
) -> tuple[Respelling, ...]:
    """All that corrected rows (as drafted, as they are now) and the keeper say, most seen first."""
    seen = Counter(pair for before, now in corrected for pair in misheard(before, now))
    pairs = sorted({*seen, *decided}, key=lambda pair: (-seen[pair], pair))
    return tuple(
        Respelling(
            heard, meant, seen[heard, meant],
            decided.get((heard, meant), seen[heard, meant] >= TIMES), (heard, meant) in decided,
        )
        for heard, meant in pairs
    )  # fmt: skip


def in_use(learnt: Iterable[Respelling]) -> dict[str, str]:
    """Heard words to what they are put right to; of two for the same words, the most seen."""
    found: dict[str, str] = {}
    for respelling in learnt:
        if respelling.used:
            found.setdefault(respelling.heard, respelling.meant)
    return found


def misheard(before: Entry, now: Entry) -> frozenset[tuple[str, str]]:
    """Pairs (heard, meant) that the keeper's correction of one row shows.

    Either the keeper has put the words themselves right, or has named a thing whose name
    was not in the words but something like it was.

    >>> from dataclasses import replace
    >>> row = Entry("7", "feed", "give", "glue", "done", quote="gave her four liters of sir up")
    >>> sorted(misheard(row, replace(row, item="syrup")))
    [('sir up', 'syrup')]
    >>> sorted(misheard(row, replace(row, quote="gave her four liters of syrup")))
    [('sir up', 'syrup')]
    """
    if now.quote != before.quote:
        return _reworded(_words(before.quote), _words(now.quote))
    if now.item == before.item:
        return frozenset()
    return _named(_words(before.quote), _words(now.item))


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+(?:['’-][^\W_]+)*", text.lower())


def _reworded(old: list[str], new: list[str]) -> frozenset[tuple[str, str]]:
    found = set()
    for what, a, b, c, d in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if what == "replace" and max(b - a, d - c) <= _LONGEST:
            heard, meant = " ".join(old[a:b]), " ".join(new[c:d])
            number = any(word.isdigit() for word in (*old[a:b], *new[c:d]))
            if not number and _alike(heard, meant) >= REWORDED:
                found.add((heard, meant))
    return frozenset(found)


def _named(words: list[str], item: list[str]) -> frozenset[tuple[str, str]]:
    """The words most like the item's name, if they are like enough and not the name itself."""
    meant = " ".join(item)
    spans = [
        " ".join(words[a : a + size])
        for size in range(1, len(item) + 2)
        for a in range(len(words) - size + 1)
    ]
    spans = [span for span in spans if not any(c.isdigit() for c in span)]
    if not spans or not item or any(_same(span, meant) for span in spans):
        return frozenset()
    best = max(spans, key=lambda span: _alike(span, meant))
    return frozenset({(best, meant)}) if _alike(best, meant) >= ALIKE else frozenset()


def _alike(one: str, other: str) -> float:
    """0 to 100, by letters; where words are parted does not matter."""
    from rapidfuzz.fuzz import ratio

    return ratio(one.replace(" ", ""), other.replace(" ", ""))


def _same(said: str, meant: str) -> bool:
    """Singular and plural of one word."""
    return said.rstrip("s") == meant.rstrip("s")
