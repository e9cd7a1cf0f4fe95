"""How loud it is, and whether that is any good: too loud, or nothing at all."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fieldvoice.listening.flac import Samples

FULL = 32_700  # of 32,768: from here on a sample counts as cut off
CLIPPED = 3  # such samples in a row
NOTHING = -75.0  # dBFS; a microphone's own noise is above
SILENT = 5.0  # seconds of nothing before it is said
AGAIN = 10.0  # seconds until the same is said again


@dataclass(frozen=True, slots=True)
class Level:
    """What one block was like."""

    peak: float  # dBFS, at most 0
    loud: float  # dBFS of the root mean square
    warning: str = ""  # to be said now


class Meter:
    """Follows the level of a recording."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._place = 0  # samples so far
        self._nothing = 0  # samples of nothing so far
        self._said: dict[str, int] = {}
        self._was_silent = False

    def take(self, sound: Samples) -> Level:
        """The level of a block, with a warning if one is due."""
        if not len(sound):
            return Level(-math.inf, -math.inf)
        self._place += len(sound)
        wide = sound.astype(np.float64)
        peak = _decibel(float(np.abs(wide).max()))
        loud = _decibel(float(np.sqrt((wide**2).mean())))
        self._nothing = self._nothing + len(sound) if peak < NOTHING else 0
        warning = ""
        if self._nothing >= SILENT * self._rate:
            self._was_silent = True
            warning = self._due("No sound comes from the microphone: is it muted or unplugged?")
        elif self._was_silent and not self._nothing:
            self._was_silent = False
            self._said.clear()
            warning = "There is sound again."
        elif clips(sound):
            warning = self._due("Too loud: the sound is cut off. Turn the microphone down.")
        return Level(peak, loud, warning)

    def _due(self, warning: str) -> str:
        if warning in self._said and self._place - self._said[warning] < AGAIN * self._rate:
            return ""
        self._said[warning] = self._place
        return warning


def clips(sound: Samples) -> bool:
    """Whether samples were cut off: several in a row at the very end of the scale."""
    full = np.abs(sound.astype(np.int32)) >= FULL
    return bool(np.convolve(full, np.ones(CLIPPED), mode="valid").max(initial=0) >= CLIPPED)


def _decibel(size: float) -> float:
    return 20 * math.log10(size / 32_768) if size > 0 else -math.inf


def bar(level: Level, width: int = 24) -> str:
    """The level as text, from -60 to 0 dBFS.

    >>> bar(Level(-30.0, -40.0), 10)
    '=====-----  -30 dB'
    """
    height = 0 if math.isinf(level.peak) else round((max(level.peak, -60.0) + 60) / 60 * width)
    number = "silent" if math.isinf(level.peak) else f"{level.peak:4.0f} dB"
    return f"{'=' * height}{'-' * (width - height)} {number}"
