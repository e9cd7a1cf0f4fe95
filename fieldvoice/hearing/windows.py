"""Stretches of speech joined to windows that the recogniser decodes one by one.

A window holds at most 28 s: Whisper looks at 30, and the rest stays quiet so that the
last word is not cut. The silence between stretches is left out; a window remembers
where each of its pieces stood in the recording, and every time that is handed on is a
time of the recording.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from fieldvoice.hearing.decode import RATE, Sound
from fieldvoice.hearing.engines import WINDOW
from fieldvoice.hearing.vad import Spoken
from fieldvoice.types import Stretch


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of speech inside a window, in samples."""

    start: int  # of the recording
    offset: int  # of the window
    length: int
    voice: float  # mean probability of speech, 0 to 1

    @property
    def stretch(self) -> Stretch:
        """Where it stands in the recording, in seconds."""
        return Stretch(self.start / RATE, (self.start + self.length) / RATE)


@dataclass(frozen=True, slots=True)
class Window:
    """Sound that is decoded as one, and where it comes from."""

    sound: Sound
    pieces: tuple[Piece, ...]

    @property
    def seconds(self) -> float:
        """Length of the sound."""
        return len(self.sound) / RATE

    @property
    def key(self) -> str:
        """Its offsets in the recording, as text that can be stored."""
        return ",".join(f"{p.start}+{p.length}" for p in self.pieces)

    def piece_at(self, second: float) -> int:
        """The piece that sounds at `second` of the window."""
        sample = second * RATE
        return max(0, bisect_right([p.offset for p in self.pieces], sample) - 1)

    def time(self, second: float, piece: int) -> float:
        """`second` of the window as seconds of the recording, kept inside `piece`."""
        p = self.pieces[piece]
        return (p.start + min(max(second * RATE - p.offset, 0.0), p.length)) / RATE


def windows(stretches: Iterable[Spoken], longest: float = WINDOW) -> Iterator[Window]:
    """Join neighbours while they fit into `longest` seconds."""
    held: list[Spoken] = []
    length = 0
    for stretch in stretches:
        if held and length + len(stretch.sound) > longest * RATE:
            yield _window(held)
            held, length = [], 0
        held.append(stretch)
        length += len(stretch.sound)
    if held:
        yield _window(held)


def _window(stretches: list[Spoken]) -> Window:
    pieces: list[Piece] = []
    offset = 0
    for s in stretches:
        pieces.append(Piece(s.start, offset, len(s.sound), float(s.voice.mean())))
        offset += len(s.sound)
    return Window(np.concatenate([s.sound for s in stretches]), tuple(pieces))
