"""How loud a recording is along its length, for the picture that review shows."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

COLUMNS = 1200
RATE = 16_000  # samples a second of the blocks


def waveform(blocks: Iterable[NDArray[np.float32]], duration: float) -> bytes:
    """The highest peak of each of COLUMNS equal pieces, one byte each, the loudest 255.

    `blocks` are mono samples in [-1, 1]; they are read one at a time and not kept.

    >>> list(waveform([np.full(RATE, 0.5, np.float32), np.zeros(RATE, np.float32)], 2.0))[::599]
    [255, 255, 0]
    """
    peaks = np.zeros(COLUMNS, np.float32)
    samples = max(1.0, duration * RATE)
    at = 0
    for block in blocks:
        if not len(block):
            continue
        places = ((at + np.arange(len(block))) * (COLUMNS / samples)).astype(np.int64)
        places = np.minimum(places, COLUMNS - 1)
        firsts = np.flatnonzero(np.diff(places, prepend=-1))
        found = np.maximum.reduceat(np.abs(block), firsts)
        peaks[places[firsts]] = np.maximum(peaks[places[firsts]], found)
        at += len(block)
    loudest = float(peaks.max()) or 1.0
    return (peaks / loudest * 255).astype(np.uint8).tobytes()
