"""The recorder's answer: a short tone, or a sentence where the system has a voice.

The voice is Debian's espeak-ng, if it is there. The loudspeaker is PortAudio's, as the
microphone is; without one the answer is only written.
"""

from __future__ import annotations

import io
import queue
import shutil
import subprocess
import threading
import wave
from collections.abc import Callable
from typing import Any, Literal

import numpy as np

from fieldvoice.listening.flac import Samples
from fieldvoice.listening.microphone import IN_USE

RATE = 22_050  # samples a second of the tones
_UNDERSTOOD = ((660.0, 0.09), (880.0, 0.12))  # Hz, seconds: rising
_NOT = ((330.0, 0.12), (220.0, 0.2))  # falling
_LOUD = 0.3
_SPEED = "150"  # words a minute

Phase = Literal["begins", "ends"]
Play = Callable[[Samples, int], None]
"""Plays samples of a rate and comes back when they have been heard."""


class Voice:
    """Answers one after the other, in a thread of its own."""

    def __init__(
        self,
        around: Callable[[str, Phase], None] = lambda said, phase: None,
        play: Play | None = None,
        *,
        tones: bool = False,
    ) -> None:
        """`around` is told of the words (none: a tone) when an answer begins and ends; `tones`: never a sentence."""
        self._around = around
        self._play = play if play is not None else _play
        self._voice = None if tones else shutil.which("espeak-ng")
        self._answers: queue.Queue[tuple[str, bool] | None] = queue.Queue()
        self._thread = threading.Thread(target=self._work, name="answers", daemon=True)
        self._thread.start()

    def answer(self, text: str) -> None:
        """It was understood: say so in a sentence, or by a tone if there is none."""
        self._answers.put((text, True))

    def not_understood(self) -> None:
        """The phrase was heard and nothing that follows it."""
        self._answers.put(("", False))

    def close(self) -> None:
        """Say what is left, and end."""
        self._answers.put(None)
        self._thread.join(timeout=15)

    def _work(self) -> None:
        while (answer := self._answers.get()) is not None:
            text, understood = answer
            spoken = speak(self._voice, text) if text and self._voice is not None else None
            sound, rate = spoken or (tone(understood=understood), RATE)
            said = text if spoken else ""
            self._around(said, "begins")
            self._play(sound, rate)
            self._around(said, "ends")


def tone(*, understood: bool) -> Samples:
    """Rising for yes, falling for no; soft at both ends, so that it does not click."""
    parts = []
    for pitch, seconds in _UNDERSTOOD if understood else _NOT:
        n = int(seconds * RATE)
        wave_ = np.sin(2 * np.pi * pitch * np.arange(n) / RATE) * np.hanning(n) ** 0.3
        parts.append(wave_ * _LOUD * 32767)
    return np.concatenate(parts).astype(np.int16)


def speak(program: str, text: str) -> tuple[Samples, int] | None:
    """A sentence as sound, by espeak-ng; None if it gives none."""
    try:
        done = subprocess.run(
            [program, "-s", _SPEED, "--stdout", "--", text],
            capture_output=True,
            timeout=5,
            check=True,
        )
        with wave.open(io.BytesIO(done.stdout)) as sound:
            # It streams: the length in its header is no length.
            raw = sound.readframes((len(done.stdout) - 44) // 2)
            return np.frombuffer(raw[: len(raw) // 2 * 2], np.int16), sound.getframerate()
    except (OSError, subprocess.SubprocessError, wave.Error, EOFError):
        return None


def _play(sound: Samples, rate: int) -> None:
    """On the system's usual loudspeaker; silent where there is none."""
    try:
        import sounddevice
    except OSError:
        return
    out: Any
    try:
        with IN_USE, sounddevice.OutputStream(samplerate=rate, channels=1, dtype="int16") as out:
            out.write(sound[:, None])
    except (ValueError, sounddevice.PortAudioError):
        return
