"""The words a caller expects to hear, as data: this room knows no trade."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What primes the recogniser for one yard."""

    style: str = ""
    """A short line written the way a transcript should be: numbers as digits, and so on."""
    labels: tuple[str, ...] = ()
    """Names of the things spoken of, as the register writes them: "7", "A3", "nuc 2"."""
    words: tuple[str, ...] = ()
    """Words that are rare elsewhere, the most important first."""
    cue: str = ""
    """The word that announces a label: "hive" in "hive 7"."""
    cues: tuple[str, ...] = ()
    """Every word that announces one, `cue` among them."""
    misheard: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """What recognisers write for a cue or for the first word of a label such as "nuc 2"."""
    units: tuple[str, ...] = ()
    """Units of measure, singular."""
    critical: tuple[str, ...] = ()
    """Other words that must not be misheard: negations, substances."""
    common: tuple[str, ...] = ()
    """Those of `misheard` that are common words: asked about only before a number."""
    glued: tuple[str, ...] = ()
    """Digits that a cue is taken for before a number: "hive 38" written as 538."""
    letters: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """Words that are written for the letter of a label before its number: "at" for A."""
    alike: Mapping[str, int] = field(default_factory=dict)
    """Common words that sound like a number: "for" is 4."""
    counted: tuple[str, ...] = ()
    """Plurals that a number stands before, beside the units."""
    calls: tuple[str, ...] = ()
    """Phrases that are said before an order to the recorder: "attention logbook"."""
    orders: tuple[str, ...] = ()
    """All that may be said after such a phrase: "scratch that"."""

    @property
    def firsts(self) -> frozenset[str]:
        """First words of labels of two words, which announce themselves: "nuc"."""
        return frozenset(label.split()[0].lower() for label in self.labels if " " in label)


def vocabulary_from(raw: Mapping[str, Any], labels: Sequence[str] = ()) -> Vocabulary:
    """A trade's data file and a register's labels as a Vocabulary."""
    return Vocabulary(
        style=str(raw.get("style", "")),
        labels=tuple(labels),
        words=tuple(raw.get("words", ())),
        cue=str(raw.get("cue", "")),
        cues=tuple(raw.get("cues", ())),
        units=tuple(raw.get("units", ())),
        critical=tuple(raw.get("critical", ())),
        common=tuple(raw.get("common", ())),
        glued=tuple(raw.get("glued", ())),
        alike={word: int(number) for word, number in raw.get("alike", {}).items()},
        letters={letter: tuple(said) for letter, said in raw.get("letters", {}).items()},
        counted=tuple(raw.get("counted", ())),
        misheard={word: tuple(said) for word, said in raw.get("misheard", {}).items()},
    )
