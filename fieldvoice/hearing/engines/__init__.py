"""What a recogniser must do for the room, whichever library it comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from fieldvoice.hearing.decode import Sound

Array = NDArray[np.float32]

BEAM = 5  # hypotheses kept; one alone loses 1 to 7 points of word error
LANGUAGE = "en"
WINDOW = 28.0  # seconds at most: Whisper looks at 30, the rest stays quiet


@dataclass(frozen=True, slots=True)
class Timed:
    """A word with its place in the window."""

    word: str  # with the punctuation that belongs to it, without spaces
    start: float  # seconds of the window
    end: float
    probability: float  # 0 to 1
    tokens: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Decoded:
    """What one window gave."""

    text: str
    tokens: tuple[int, ...]
    no_speech: float  # the model's probability that nobody speaks, 0 to 1
    logprob: float  # mean natural-log probability of a token


@dataclass(frozen=True, slots=True)
class Opinion:
    """What an engine heard, with what else it could have written in the place of each word."""

    decoded: Decoded
    words: tuple[str, ...]  # of its text, with their signs
    chances: tuple[Mapping[str, float], ...]  # of each word's place: a text's natural-log chance


class Engine(Protocol):
    """A loaded recogniser. Its methods may be called from `workers` threads at once."""

    name: str  # "ctranslate2" or "whisper"
    model: str  # a name of models/catalog.toml
    workers: int  # how many windows it can work on at a time
    folder: Path  # where its weights are
    window: float  # seconds of sound that it hears best at a time, at most 28

    def encode(self, sound: Sound, *, short: bool = False) -> Any:
        """Encoder output of at most 30 s of 16 kHz sound, for the other methods.

        `short`: only two seconds of silence after the sound instead of filling 30, where
        the engine can; quicker, and a little less accurate.
        """
        ...

    def generate(
        self, encoded: Any, prompt: str, *, beam: int = BEAM, no_repeat: int = 0
    ) -> Decoded:
        """Beam search after `prompt`; no `no_repeat` tokens in a row come twice (0: may)."""
        ...

    def align(self, encoded: Any, tokens: Sequence[int], seconds: float) -> list[Timed]:
        """When each word of `tokens` was said in the `seconds` that were encoded."""
        ...

    def memory(self, encoded: Any) -> Array:
        """The encoder's output as numbers, frames x width."""
        ...

    def tokens(self, text: str) -> list[int]:
        """A text as tokens, with the space that stands before a word."""
        ...

    def lead(self, prompt: str) -> list[int]:
        """The tokens that stand before a window's text."""
        ...


class Adviser(Engine, Protocol):
    """An engine whose second opinion can be asked."""

    def opine(self, encoded: Any, prompt: str, texts: Sequence[str]) -> Opinion:
        """The likeliest text, found greedily, and how likely each of `texts` is at each word.

        Only differences between the chances of one place mean something. A text of more
        than one token has none.
        """
        ...
