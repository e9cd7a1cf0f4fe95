"""Where in the heard words a label of the register may stand.

A site is a cue ("hive"), or what a recogniser makes of one ("high"), and the words after
it. Nothing is decided here: the sound is asked about each site afterwards.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.number_words import ONES, TEENS, TENS

SMALL = ONES | TEENS
SIGNS = " .,;:?!\"'-"  # that may stand around a word
SOUNDALIKES = ("the", "hey", "ate", "for", "free", "tree", "won")  # of a, eight, four, three, one
_GLUED = re.compile(r"([A-Za-z']+)(\d+\w*)$")
# After these, or at the start of a clause, "hive" without a label is no hive of English.
BEFORE_A_NAME = frozenset(
    [
        "at",
        "from",
        "in",
        "into",
        "is",
        "of",
        "on",
        "onto",
        "over",
        "to",
        "with",
        "was",
        "and",
        "now",
        "so",
        "but",
        "okay",
        "then",
        "next",
        "back",
    ]
)


@dataclass(frozen=True, slots=True)
class Site:
    """Words [first, last) may be a cue and a label; the cue is right or only likely."""

    first: int  # the cue
    last: int  # one past the most words that a label may take
    cue: str  # the word that should stand there, lower case
    certain: bool  # the cue itself was heard
    glued: bool = False  # cue and label were written as one word ("hive9")


def bare(word: str) -> str:
    """The word without signs around it, lower case."""
    return word.strip(SIGNS).lower()


def number_in(word: str) -> int | None:
    """A number written as one word, in digits or letters up to ninety-nine."""
    text = bare(word)
    if text.isdigit():
        return int(text)
    if text in SMALL:
        return SMALL[text]
    tens, _, unit = text.partition("-")
    if tens in TENS and (not unit or ONES.get(unit)):
        return TENS[tens] + ONES.get(unit, 0)
    return None


def ends_clause(word: str) -> bool:
    """Whether a sign after the word parts it from the next."""
    return word[-1:] in ".,;:!?"


def names_itself(words: Sequence[Timed], at: int) -> bool:
    """Whether a name must follow the cue at `at`: no article, no adjective stands before it."""
    return at == 0 or ends_clause(words[at - 1].word) or bare(words[at - 1].word) in BEFORE_A_NAME


def can_be_label(word: str) -> bool:
    """A number, a letter, or what is written for one: "7", "a", "A3", "to", "the"."""
    text = bare(word)
    return (
        number_in(word) is not None
        or text in SOUNDALIKES
        or bool(re.fullmatch(r"[a-z]\d*|\d+", text))
    )


def sites(words: Sequence[Timed], vocabulary: Vocabulary) -> Iterator[Site]:
    """Every place worth asking about, in order; they do not overlap."""
    firsts = vocabulary.firsts
    heard_as = {
        said: word
        for word, many in vocabulary.misheard.items()
        if word == vocabulary.cue or word in firsts
        for said in many
    }
    at = 0
    while at < len(words):
        site = _site(words, at, vocabulary, firsts, heard_as)
        if site is None:
            at += 1
        else:
            yield site
            at = site.last if site.last > site.first + 1 else at + 1


def _site(
    words: Sequence[Timed],
    at: int,
    vocabulary: Vocabulary,
    firsts: frozenset[str],
    heard_as: dict[str, str],
) -> Site | None:
    text = bare(words[at].word)
    glued = _GLUED.match(text)
    if glued and (glued[1] in vocabulary.cues or glued[1] in firsts):
        return Site(at, at + 1, glued[1], certain=True, glued=True)
    digits = text.replace(".", "")
    for sound in vocabulary.glued:  # "hive thirty-eight" written as 538
        if digits.startswith(sound) and digits.removeprefix(sound) in vocabulary.labels:
            return Site(at, at + 1, vocabulary.cue, certain=False, glued=True)
    first, hyphen, rest = text.partition("-")  # "high-free" for "hive three"
    cue = first if first in vocabulary.cues or first in firsts else heard_as.get(first)
    if hyphen and cue and can_be_label(rest) and first not in vocabulary.common:
        return Site(at, at + 1, cue, certain=first == cue, glued=True)
    certain = text in vocabulary.cues or text in firsts
    if not certain and text not in heard_as:
        return None
    last = _reach(words, at + 1)
    if last == at + 1 or (text in vocabulary.common and not can_be_label(words[at + 1].word)):
        return None
    return Site(at, last, text if certain else heard_as[text], certain)


def _reach(words: Sequence[Timed], first: int) -> int:
    """A label takes one word, or more while they look like its parts ("A 3", "20 2")."""
    last = first
    while last < len(words) and last - first < 3:
        if last > first and not can_be_label(words[last].word):
            break
        last += 1
        if ends_clause(words[last - 1].word) and not _goes_on(words, last):
            break
    return last


def _goes_on(words: Sequence[Timed], at: int) -> bool:
    """Whether "20, two" may be one label: tens, a comma, and a unit that ends its clause."""
    if at >= len(words) or words[at - 1].word[-1:] != "," or not ends_clause(words[at].word):
        return False
    tens, unit = number_in(words[at - 1].word), number_in(words[at].word)
    return tens in TENS.values() and unit in range(1, 10)
