"""Sound as FLAC: written whole or stream by stream, lossless, with notes in the file.

PyAV is here already for decoding; its FLAC has a checksum in every frame.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.bounded import pyav

Samples = NDArray[np.int16]
"""Mono samples as a sound card gives them."""

_AT_ONCE = 1 << 16  # samples handed to the encoder together


def write_flac(
    path: Path, sound: Iterable[Samples], rate: int, notes: Mapping[str, str] | None = None
) -> None:
    """Write mono 16-bit sound; `notes` become the file's comments.

    Raises:
        OSError: no room, or not permitted.
    """
    import av

    with av.open(str(path), "w", format="flac") as container:
        container.metadata.update(notes or {})
        stream = container.add_stream("flac", rate=rate, layout="mono")
        stream.format = "s16"
        for block in sound:
            for start in range(0, len(block), _AT_ONCE):
                container.mux(stream.encode(_frame(block[start : start + _AT_ONCE], rate)))
        container.mux(stream.encode(None))


def write_whole(path: Path, sound: Iterable[Samples], rate: int, notes: Mapping[str, str]) -> None:
    """As `write_flac`, but the file has its name only once it is whole and on the disk."""
    beside = path.with_suffix(".part")
    write_flac(beside, sound, rate, notes)
    with beside.open("rb+") as file:
        os.fsync(file.fileno())
    beside.rename(path)


def _frame(samples: Samples, rate: int) -> Any:
    import av

    frame = av.AudioFrame.from_ndarray(
        np.ascontiguousarray(samples[None, :]), format="s16", layout="mono"
    )
    frame.sample_rate = rate
    return frame


def read_flac(path: Path) -> Iterator[Samples]:
    """The samples of a mono 16-bit file, frame by frame.

    Raises:
        RecordingError: it is none, or it is damaged.
    """
    import av

    av.logging.set_level(av.logging.PANIC)
    try:
        with av.open(str(path)) as container:
            for frame in container.decode(audio=0):
                yield frame.to_ndarray().reshape(-1).astype(np.int16)
    except (av.error.FFmpegError, ValueError, IndexError) as error:
        raise RecordingError(f"{path}: this piece of sound is damaged ({error}).") from error


def notes_of(path: Path) -> Mapping[str, str]:
    """The comments in a sound file, names in capitals; none if it cannot be read."""
    av = pyav()
    try:
        with av.open(str(path), metadata_errors="ignore") as container:
            return {k.upper(): str(v) for k, v in container.metadata.items()}
    except (av.error.FFmpegError, ValueError, OSError):
        return {}
