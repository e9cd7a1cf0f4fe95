"""A recording, whatever its container, becomes 16 kHz mono sound in blocks.

PyAV carries the codecs in its wheels, so nothing has to be installed on the system.
Blocks are decoded as they are asked for: a two-hour recording is never held whole.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.bounded import pyav

Sound = NDArray[np.float32]
"""Mono samples in [-1, 1], 16,000 a second."""

RATE = 16_000  # samples a second, what Whisper and the voice detector were trained on
BLOCK_SECONDS = 10.0
GAP = 0.1  # seconds between time stamps that mean lost frames, not rounding
MOST_SILENCE = 3600.0  # seconds put in for lost frames; more means that the stamps are damaged
LOWEST_RATE = 4_000  # samples a second; a frame of fewer unpacks to gigabytes and holds no speech
HIGHEST_RATE = 768_000  # no recorder takes more; to bring down a rate of billions takes minutes
LONGEST = 24 * 3600.0  # seconds of one recording

SUFFIXES = (
    ".wav", ".mp3", ".m4a", ".aac", ".ogg", ".opus", ".oga", ".flac", ".webm", ".mp4", ".mov",
)  # fmt: skip
"""Endings that a folder is searched for, lower case."""

log = logging.getLogger(__name__)


@dataclass(slots=True)
class Decoding:
    """What has been decoded so far; grows while the blocks are read."""

    duration: float = 0.0  # seconds of sound that came out
    expected: float = 0.0  # seconds that the container promises; 0: it does not say
    damaged: int = 0  # frames or packets that could not be decoded


def sound_hash(path: Path) -> str:
    """The sha256 of the file's bytes: the same recording under any name.

    Raises:
        RecordingError: no such file, a folder, or not permitted.
    """
    check_readable(path)
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise RecordingError(
            f"{path}: cannot be read ({error.strerror}). Check the file and its permissions."
        ) from error


def check_readable(path: Path) -> None:
    """Refuse what cannot be a recording before any decoder sees it.

    Raises:
        RecordingError: no such file, a folder, not permitted, or an empty file.
    """
    try:
        if path.is_dir():
            raise RecordingError(f"{path}: is a folder, not a recording. Name a sound file.")
        size = path.stat().st_size
        with path.open("rb"):
            pass
    except FileNotFoundError:
        raise RecordingError(f"{path}: there is no such file. Check the name.") from None
    except PermissionError:
        raise RecordingError(
            f"{path}: you have no permission to read it. Change its permissions or copy it."
        ) from None
    except OSError as error:
        raise RecordingError(f"{path}: cannot be opened ({error.strerror}).") from error
    if size == 0:
        raise RecordingError(
            f"{path}: the file is empty (0 bytes). Copy it from the recorder again."
        )


def length_of(path: Path) -> float:
    """Seconds that the container promises; 0 if it does not say or cannot be read."""
    av = pyav()
    try:
        with av.open(str(path), mode="r", metadata_errors="ignore") as container:
            return float((container.duration or 0) / av.time_base)
    except (av.error.FFmpegError, OSError, ValueError):
        return 0.0


def decode(path: Path, decoding: Decoding | None = None) -> Iterator[Sound]:
    """Yield blocks of about ten seconds, float32 in [-1, 1], 16 kHz mono.

    A damaged frame is left out and counted in `decoding.damaged`; a file that was cut
    short gives what it holds.

    Raises:
        RecordingError: not a recording, no sound track, or no sound in it.
    """
    state = decoding if decoding is not None else Decoding()
    with _opened(path) as container:
        if container.duration:
            state.expected = container.duration / pyav().time_base
        yield from _blocks(path, container, state)


def check_recording(path: Path) -> None:
    """Refuse what is no recording before a model is loaded to hear it.

    Raises:
        RecordingError: not a recording, or no sound track.
    """
    with _opened(path):
        pass


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """The container of a file that has a sound track."""
    av = pyav()
    check_readable(path)
    try:
        container = av.open(str(path), mode="r", metadata_errors="ignore")
    except (av.error.FFmpegError, ValueError) as error:
        raise RecordingError(
            f"{path}: no sound recording was recognised in this file. "
            "Export it as WAV, FLAC, MP3, M4A or Ogg and try again."
        ) from error
    with container:
        if not container.streams.audio:
            raise RecordingError(
                f"{path}: there is no sound track in this file. Name the file with the sound."
            )
        yield container


def _blocks(path: Path, container: Any, state: Decoding) -> Iterator[Sound]:
    """Join small frames to blocks and keep count of the time."""
    waiting: list[Sound] = []
    samples = 0
    for piece in _resampled(container, state):
        waiting.append(piece)
        samples += len(piece)
        state.duration += len(piece) / RATE
        if state.duration > LONGEST:
            raise RecordingError(
                f"{path}: it is longer than {LONGEST / 3600:.0f} hours. Cut it into parts."
            )
        if samples >= BLOCK_SECONDS * RATE:
            yield np.concatenate(waiting)
            waiting, samples = [], 0
    if samples:
        yield np.concatenate(waiting)
    if state.duration == 0.0:
        cause = (
            f"none of its {state.damaged} frames can be decoded"
            if state.damaged
            else "its sound track has no length"
        )
        raise RecordingError(f"{path}: there is no sound in it: {cause}. Record or copy it again.")
    if state.damaged:
        log.warning("%s: %d damaged frames were left out", path.name, state.damaged)


def _resampled(container: Any, state: Decoding) -> Iterator[Sound]:
    """Decode, convert to 16 kHz mono float, and flush the resampler at the end.

    Where the time stamps show that frames are missing, silence is put in their place, so
    that every later second is still the second a player shows.
    """
    import av

    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
    clock: float | None = None  # seconds at which the next frame is due
    silence = 0.0
    for frame in _frames(container, state):
        at = frame.time if frame.time is not None else clock
        if clock is not None and at is not None and at - clock > GAP:
            believed = not state.expected or at < state.expected
            if believed and silence + at - clock <= MOST_SILENCE:
                state.damaged += 1
                silence += at - clock
                yield from _silence(at - clock)
            else:  # the stamp itself is damaged
                at = clock
        clock = None if at is None else at + frame.samples / frame.sample_rate
        frame.pts = None  # the resampler would object to the gap
        try:
            out = resampler.resample(frame)
        except (av.error.FFmpegError, ValueError):
            # A file may change its format on the way (joined recordings): start afresh.
            resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE)
            try:
                out = resampler.resample(frame)
            except (av.error.FFmpegError, ValueError):
                state.damaged += 1
                continue
        yield from map(_samples, out)
    yield from map(_samples, resampler.resample(None))


def _samples(frame: Any) -> Sound:
    sound: Sound = frame.to_ndarray().reshape(-1)[: frame.samples].astype(np.float32)
    return np.nan_to_num(sound, copy=False, posinf=1.0, neginf=-1.0)


def _silence(seconds: float) -> Iterator[Sound]:
    """Zeros, in pieces, so that a long gap takes no memory."""
    left = round(seconds * RATE)
    while left > 0:
        yield np.zeros(min(left, RATE), np.float32)
        left -= RATE


def _frames(container: Any, state: Decoding) -> Iterator[Any]:
    """Frames of the first sound track; what cannot be decoded is counted and passed over."""
    import av

    packets = container.demux(container.streams.audio[0])
    while True:
        try:
            packet = next(packets)
        except StopIteration:
            return
        except (av.error.FFmpegError, ValueError):
            state.damaged += 1
            return  # the container itself is broken here; there is no way on
        try:
            for frame in packet.decode():
                if not LOWEST_RATE <= frame.sample_rate <= HIGHEST_RATE:
                    state.damaged += 1
                    continue
                state.damaged += bool(frame.is_corrupt)
                yield frame
        except (av.error.FFmpegError, ValueError):
            state.damaged += 1
