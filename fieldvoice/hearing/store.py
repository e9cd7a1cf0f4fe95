"""Where heard windows are kept, so that nothing is heard twice.

A window is known by the recording's hash, its offsets, the engine, the model and the
prompt: a changed prompt hears again, a killed run goes on where it was.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any, Protocol

from fieldvoice.hearing.engines import Timed
from fieldvoice.types import Doubt, Reading


@dataclass(frozen=True, slots=True)
class WindowKey:
    """What a heard window depends on."""

    sound: str  # sha256 of the recording
    offsets: str  # its pieces, in samples
    engine: str
    model: str
    prompt: str  # sha256 of the prompt and of everything else that shapes the result

    def __str__(self) -> str:
        """One text to look it up by."""
        return "|".join((self.sound, self.offsets, self.engine, self.model, self.prompt))


@dataclass(frozen=True, slots=True)
class Heard:
    """What a window gave, times in seconds of the window."""

    words: tuple[Timed, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    trusted: bool = True  # False: every reading broke a guard


class WindowStore(Protocol):
    """A place for heard windows; each value is JSON."""

    def get(self, key: str) -> Any | None:
        """The value kept under `key`, or None."""
        ...

    def put(self, key: str, value: Any) -> None:
        """Keep `value`; it must survive a crash from here on."""
        ...


class NoStore:
    """Keeps nothing."""

    def get(self, key: str) -> Any | None:
        """Nothing is ever here."""
        return None

    def put(self, key: str, value: Any) -> None:
        """Forget it."""


class MemoryStore(dict[str, Any]):
    """Keeps windows as long as the process runs."""

    def put(self, key: str, value: Any) -> None:
        """Keep it in memory."""
        self[key] = value


def prompt_hash(*shaping: str) -> str:
    """A short hash of the prompt and whatever else shapes a window's result."""
    return hashlib.sha256("\0".join(shaping).encode()).hexdigest()[:16]


def to_json(heard: Heard) -> dict[str, Any]:
    """A heard window as JSON."""
    return {
        "trusted": heard.trusted,
        "words": [
            [w.word, round(w.start, 3), round(w.end, 3), round(w.probability, 5), list(w.tokens)]
            for w in heard.words
        ],
        "doubts": [
            [d.start, d.end, d.kind, d.heard, [[r.text, r.score] for r in d.readings]]
            for d in heard.doubts
        ],
    }


def from_json(raw: dict[str, Any]) -> Heard:
    """Read one back."""
    return Heard(
        tuple(Timed(w[0], w[1], w[2], w[3], tuple(w[4])) for w in raw["words"]),
        tuple(
            Doubt(d[0], d[1], d[2], d[3], tuple(Reading(r[0], r[1]) for r in d[4]))
            for d in raw["doubts"]
        ),
        bool(raw["trusted"]),
    )
