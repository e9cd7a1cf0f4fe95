"""Rooms that answer at once, so that what is tested is the way between them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from makers import EGGS, HEARD, MAY, SYRUP, write_sound

from fieldvoice.pipeline import AddOptions
from fieldvoice.types import Entry, Progress, Register, Transcript


@dataclass
class Rooms:
    """Counts what it is asked; breaks where it is told to."""

    heard: list[str] = field(default_factory=list)
    extracted: int = 0
    hear_breaks: BaseException | None = None
    extract_breaks: BaseException | None = None
    rows: tuple[Entry, ...] = (SYRUP, EGGS)

    def hear(
        self, path: Path, register: Register, settings: Any, store: Any, progress: Progress
    ) -> Transcript:
        self.heard.append(path.name)
        for window in range(3):
            key = f"{path.name}|{window}"
            if store.get(key) is None:
                store.put(key, {"words": [window]})
            progress("hear", window + 1, 3)
            if window == 1 and self.hear_breaks:
                raise self.hear_breaks
        return HEARD

    def extract(
        self, transcript: Transcript, at: datetime, register: Register, settings: Any
    ) -> tuple[Entry, ...]:
        self.extracted += 1
        if self.extract_breaks:
            raise self.extract_breaks
        assert transcript == HEARD
        return self.rows

    def options(self, **more: Any) -> AddOptions:
        return AddOptions(hear=self.hear, extract=self.extract, clock=lambda: MAY, **more)


def tone(path: Path, pitch: float = 440.0, seconds: float = 0.5) -> Path:
    """A short sound file; another pitch gives another content."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rate = 48_000
    wave = np.sin(np.arange(int(rate * seconds)) * 2 * np.pi * pitch / rate) * 0.3
    return write_sound(path, wave, rate)
