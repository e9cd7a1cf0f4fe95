"""Through a real device: PulseAudio's null sink, recorded by PortAudio."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import write
from makers import COMMAND
from scipy.signal import correlate
from sound_server import Server

from fieldvoice.hearing.decode import RATE, decode
from fieldvoice.listening.microphone import Microphone
from fieldvoice.listening.record import record, session
from fieldvoice.listening.recover import join


def chirp(seconds: float) -> np.ndarray:
    """A sound that lies in one place of a recording only."""
    t = np.arange(int(seconds * RATE)) / RATE
    return (0.4 * np.sin(2 * np.pi * (300 * t + 1200 * t**2 / seconds))).astype(np.float32)


def place_of(sound: np.ndarray, recording: np.ndarray) -> tuple[float, float]:
    """Second at which `sound` begins in a recording, and how like it is there (0 to 1)."""
    found = correlate(recording, sound, mode="valid", method="fft")
    at = int(np.argmax(np.abs(found)))
    there = recording[at : at + len(sound)]
    return at / RATE, float(abs(there @ sound) / np.linalg.norm(there) / np.linalg.norm(sound))


def test_recorded_and_unplugged_and_back(
    tmp_path: Path, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two sounds, the device away between them: both are there, and their distance is true."""
    for name, value in server.env.items():
        monkeypatch.setenv(name, value)
    sound = chirp(1.5)
    wav = write(tmp_path / "chirp.wav", sound, "pcm_s16le")
    microphone = Microphone("pulse")
    assert microphone.rate == RATE
    stop = threading.Event()
    said: list[str] = []
    played: list[float] = []
    with session(tmp_path / "pieces", RATE, datetime.now(UTC)) as writer:
        recording = threading.Thread(
            target=record,
            args=(microphone, writer, stop, lambda second, level, text: said.append(text)),
        )
        recording.start()
        while writer.place < RATE:
            time.sleep(0.1)
        played.append(time.monotonic())
        server.play(wav)
        time.sleep(0.5)
        server.stop()
        time.sleep(2.5)
        server.start()
        there = writer.place
        while writer.place < there + RATE:
            time.sleep(0.1)
        played.append(time.monotonic())
        server.play(wav)
        time.sleep(1.0)
        stop.set()
        recording.join(20)
    joined = join(writer.folder, tmp_path / "out")
    whole = np.concatenate(list(decode(joined.path)))
    (gap,) = [g for g in joined.gaps if g.end - g.start > 1.0]
    middle = int(gap.end * RATE)
    first, first_like = place_of(sound, whole[:middle])
    second, second_like = place_of(sound, whole[middle:])
    assert first_like > 0.9
    assert second_like > 0.9
    apart = second + gap.end - first
    # paplay itself starts within a fraction of a second, not the same each time
    assert apart == pytest.approx(played[1] - played[0], abs=0.35)
    assert any("away" in text and "waiting" in text for text in said)
    assert any("away for" in text and "marked" in text for text in said)


def test_no_microphone_is_one_sentence(tmp_path: Path) -> None:
    done = subprocess.run(
        [COMMAND, "--logbook", tmp_path / "log.db",
         "listen", "--device", "no such device"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    (line,) = done.stderr.splitlines()
    assert done.returncode == 2
    assert "no such device" in line
    assert "--device" in line


def test_without_portaudio_it_says_what_to_install(tmp_path: Path) -> None:
    """The wheel finds no library: PATH and loader are left without ldconfig and gcc."""
    script = (
        "import ctypes.util, sys; ctypes.util.find_library = lambda name: None;"
        "from fieldvoice.cli import main; sys.argv[1:] = ['listen', '--devices']; main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False,
        env={"PATH": "/usr/bin", "HOME": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode == 2
    assert "libportaudio2" in done.stderr
    assert len(done.stderr.splitlines()) == 1
