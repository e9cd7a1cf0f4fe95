"""The words a caller expects to hear, as data: this room knows no trade."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
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


def vocabulary_from(raw: Mapping[str, Any], labels: Sequence[str] = ()) -> Vocabulary:
    """A trade's data file and a register's labels as a Vocabulary."""
    return Vocabulary(
        style=str(raw.get("style", "")),
        labels=tuple(labels),
        words=tuple(raw.get("words", ())),
        cue=str(raw.get("cue", "")),
    )
