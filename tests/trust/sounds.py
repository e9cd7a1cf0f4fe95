"""Sound files of every format that is read, made by PyAV's encoders."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np

CODECS = {
    ".wav": ("pcm_s16le", 16_000), ".flac": ("flac", 16_000), ".mp3": ("libmp3lame", 16_000),
    ".m4a": ("aac", 16_000), ".ogg": ("libopus", 48_000), ".opus": ("libopus", 48_000),
    ".webm": ("libopus", 48_000),
}  # fmt: skip


def talk(path: Path, seconds: float = 3.0, *, seed: int = 1, title: str = "") -> Path:
    """Noise that swells and falls as speech does, so that codecs have something to do."""
    codec, rate = CODECS[path.suffix]
    time = np.arange(int(rate * seconds)) / rate
    noise = np.random.default_rng(seed).normal(size=len(time))
    wave = 0.2 * np.sin(2 * np.pi * (220 + 60 * np.sin(3 * time)) * time)
    wave = (wave + 0.02 * noise) * (0.5 + 0.5 * np.sin(2 * np.pi * 0.7 * time))
    with av.open(str(path), "w") as container:
        if title:
            container.metadata.update({"title": title, "date": "2026-05-09T10:20:00+02:00"})
        stream = container.add_stream(codec, rate=rate, layout="mono")
        resampler = av.AudioResampler(stream.format.name, "mono", rate)
        frame = av.AudioFrame.from_ndarray(
            wave[None, :].astype(np.float32), format="flt", layout="mono"
        )
        frame.sample_rate = rate
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(piece))
        container.mux(stream.encode(None))
    return path
