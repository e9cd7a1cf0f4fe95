"""Hear a piece of a recording again, with whatever player the system has."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from pathlib import Path

from fieldvoice.errors import RecordingError

LEAD_IN = 1.0  # seconds heard before and after the words
RATE = 16_000

PLAYERS: tuple[tuple[str, ...], ...] = (
    ("ffplay", "-nodisp", "-autoexit", "-loglevel", "quiet"),
    ("mpv", "--no-video", "--really-quiet"),
    ("paplay",),
    ("pw-play",),
    ("aplay", "-q"),
    ("afplay",),
)


def find_player() -> tuple[str, ...] | None:
    """The first player that is installed, as a command; None if there is none."""
    return next((player for player in PLAYERS if shutil.which(player[0])), None)


def play(path: Path, start: float, end: float) -> str:
    """Play `start` to `end` (seconds) with a lead-in. Returns what to tell the keeper, or "".

    Ctrl-C stops the sound only.
    """
    player = find_player()
    if player is None:
        names = ", ".join(command[0] for command in PLAYERS)
        return f"There is no player here to hear it with (looked for {names})."
    with tempfile.TemporaryDirectory() as folder:
        piece = Path(folder) / "piece.wav"
        try:
            cut(path, max(0.0, start - LEAD_IN), end + LEAD_IN, piece)
            subprocess.run(
                [*player, str(piece)],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                timeout=end - start + 2 * LEAD_IN + 15,
                check=True,
            )
        except RecordingError as error:
            return str(error)
        except (subprocess.SubprocessError, OSError):
            return f"{player[0]} could not play it; is the sound on?"
        except KeyboardInterrupt:
            return ""
    return ""


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
