"""The words a caller expects to hear, as data: this room knows no trade."""

from __future__ import annotations

from dataclasses import dataclass


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
