"""A piece of a recording, to be heard again."""

from __future__ import annotations

import wave
from collections.abc import Iterator
from pathlib import Path

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.bounded import pyav
from fieldvoice.hearing.decode import HIGHEST_RATE, LOWEST_RATE, RATE

RUN_UP = 0.3  # seconds decoded before the piece: codecs need some sound to get going


def cut(path: Path, start: float, end: float, to: Path) -> None:
    """Write the piece from `start` to `end` (seconds) as 16 kHz mono WAV.

    Raises:
        RecordingError: the recording is gone or cannot be read any more.
    """
    try:
        with wave.open(str(to), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(RATE)
            for piece in samples(path, start, end):
                out.writeframes(piece)
    except OSError as error:
        raise RecordingError(f"{to}: cannot be written ({error.strerror}).") from error


def samples(path: Path, start: float, end: float) -> Iterator[bytes]:
    """The piece from `start` to `end` (seconds) as 16 kHz mono, 16 bit, a frame at a time.

    Raises:
        RecordingError: the recording is gone or cannot be read any more.
    """
    av = pyav()
    try:
        with av.open(str(path), metadata_errors="ignore") as container:
            stream = container.streams.audio[0]
            container.seek(int(max(0.0, start - RUN_UP) * av.time_base), backward=True)
            resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
            at: float | None = None  # seconds at which the next sample belongs
            for frame in container.decode(stream):
                if not LOWEST_RATE <= frame.sample_rate <= HIGHEST_RATE:
                    raise ValueError(f"{frame.sample_rate} samples a second")
                at = frame.time or 0.0 if at is None else at
                if at >= end:
                    return
                for piece in resampler.resample(frame):
                    sound = piece.to_ndarray().reshape(-1)[: piece.samples]
                    first = max(0, round((start - at) * RATE))
                    last = max(0, round((end - at) * RATE))
                    if sound[first:last].size:
                        yield sound[first:last].tobytes()
                    at += piece.samples / RATE
    except (av.error.FFmpegError, OSError, ValueError, IndexError) as error:
        raise RecordingError(
            f"{path}: cannot be played; the recording was moved, deleted or changed."
        ) from error
