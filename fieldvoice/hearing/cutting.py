"""A piece of a recording as a WAV file of its own, to be heard again."""

from __future__ import annotations

import wave
from pathlib import Path

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.decode import RATE


def cut(path: Path, start: float, end: float, to: Path) -> None:
    """Write the piece from `start` to `end` (seconds) as 16 kHz mono WAV.

    Raises:
        RecordingError: the recording is gone or cannot be read any more.
    """
    import av

    try:
        with (
            av.open(str(path), metadata_errors="ignore") as container,
            wave.open(str(to), "wb") as out,
        ):
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(RATE)
            stream = container.streams.audio[0]
            container.seek(int(start * av.time_base), backward=True)
            resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE)
            for frame in container.decode(stream):
                at = frame.time or 0.0
                if at >= end:
                    break
                for piece in resampler.resample(frame):
                    samples = piece.to_ndarray().reshape(-1)[: piece.samples]
                    first = max(0, round((start - at) * RATE))
                    last = max(0, round((end - at) * RATE))
                    out.writeframes(samples[first:last].tobytes())
                    at += piece.samples / RATE
    except (av.error.FFmpegError, OSError, ValueError, IndexError) as error:
        raise RecordingError(
            f"{path}: cannot be played; the recording was moved, deleted or changed."
        ) from error
