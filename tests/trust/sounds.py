"""Sound files of every format that is read, made by PyAV's encoders."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.makers import CODECS, write_sound


def talk(path: Path, seconds: float = 3.0, *, seed: int = 1, title: str = "") -> Path:
    """Noise that swells and falls as speech does, so that codecs have something to do."""
    rate = 48_000 if CODECS[path.suffix] == "libopus" else 16_000
    time = np.arange(int(rate * seconds)) / rate
    noise = np.random.default_rng(seed).normal(size=len(time))
    wave = 0.2 * np.sin(2 * np.pi * (220 + 60 * np.sin(3 * time)) * time)
    wave = (wave + 0.02 * noise) * (0.5 + 0.5 * np.sin(2 * np.pi * 0.7 * time))
    tags = {"title": title, "date": "2026-05-09T10:20:00+02:00"} if title else None
    return write_sound(path, wave, rate, tags=tags)
