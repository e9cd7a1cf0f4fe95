"""Where sound comes from while it is being made: a microphone, or a file that stands in."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np

from fieldvoice.listening.flac import Samples

BLOCK = 0.1  # seconds of sound that come together


@dataclass(frozen=True, slots=True)
class Block:
    """Sound as it came, or word that none came."""

    sound: Samples
    lost: int = 0  # samples that are missing before it
    why: str = ""  # why they are, or why there is no sound


class Source(Protocol):
    """Gives sound until it is told to stop."""

    rate: int  # samples a second

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        """Blocks as they come; an empty one now and then while none comes."""
        ...


@dataclass(slots=True)
class FileSource:
    """A recording played as if it were spoken now: the microphone of tests and benchmarks."""

    path: Path
    speed: float = 1.0  # times real time; 0: as fast as it is taken
    rate: int = 16_000

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        """The file's sound at its own pace, until its end."""
        from fieldvoice.hearing.decode import decode

        size = int(BLOCK * self.rate)
        began, given = time.monotonic(), 0
        for part in decode(self.path):
            for start in range(0, len(part), size):
                if stop.is_set():
                    return
                piece = part[start : start + size]
                given += len(piece)
                if self.speed:
                    due = began + given / self.rate / self.speed
                    stop.wait(max(0.0, due - time.monotonic()))
                yield Block(to_samples(piece))


def to_samples(sound: np.ndarray[tuple[int], np.dtype[np.float32]]) -> Samples:
    """Float sound as 16-bit samples; what a decoder made of 16 bits comes back unchanged."""
    return np.clip(np.round(sound * 32768.0), -32768, 32767).astype(np.int16)
