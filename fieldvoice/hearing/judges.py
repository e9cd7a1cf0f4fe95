"""The decoder of an engine's own weights, loaded once, ready to weigh texts on a window."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.engines import Array, Engine, Timed
from fieldvoice.hearing.labels import Judge
from fieldvoice.hearing.scoring import Scene, TextDecoder


@lru_cache(maxsize=2)
def text_decoder(folder: Path) -> TextDecoder:
    """The decoder in `folder`; the last two stay loaded."""
    return TextDecoder(folder)


class Judges:
    """Makes a judge for each window that is decoded with `engine` and `prompt`."""

    def __init__(self, engine: Engine, prompt: str) -> None:
        self._engine = engine
        self._lead = engine.lead(prompt)
        self._decoder = text_decoder(engine.folder)
        self._silence = self._decoder.listen(_silence(engine), self._lead)
        self._known: dict[str, float] = {}

    def judge(self, encoded: Any, words: list[Timed]) -> Judge:
        """The judge of one window whose text is `words`."""
        text = [token for word in words for token in word.tokens]
        return Judge(
            self._listen(self._engine.memory(encoded), text),
            self._silence,
            len(self._lead),
            self._engine.tokens,
            self._known,
        )

    def _listen(self, memory: Array, text: list[int]) -> Scene:
        return self._decoder.listen(memory, [*self._lead, *text])


_SILENT: dict[tuple[str, Path], Array] = {}


def _silence(engine: Engine) -> Array:
    """What the encoder makes of a second of nothing, once for each engine and model."""
    key = engine.name, engine.folder
    if key not in _SILENT:
        _SILENT[key] = engine.memory(engine.encode(np.zeros(RATE, np.float32)))
    return _SILENT[key]
