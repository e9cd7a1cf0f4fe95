"""A piece of a recording is cut where it was said, and handed to a player."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
import pytest
from makers import write_sound

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.cutting import cut
from fieldvoice.review import sound

RATE = 16_000


@pytest.fixture(params=["wav", "flac", "ogg", "mp3", "m4a"])
def rising(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Twelve seconds; second n is a tone of 200 + 100 n hertz."""
    pitch = 200 + 100 * np.repeat(np.arange(12), 48_000)
    wave_ = 0.3 * np.sin(2 * np.pi * np.cumsum(pitch) / 48_000)
    return write_sound(tmp_path / f"rising.{request.param}", wave_, 48_000)


def pitch_of(samples: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * RATE / len(samples)


def test_the_piece_is_the_right_one(rising: Path, tmp_path: Path) -> None:
    piece = tmp_path / "piece.wav"
    cut(rising, 7.0, 9.0, piece)
    with wave.open(str(piece)) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (RATE, 1, 2)
        samples = np.frombuffer(file.readframes(file.getnframes()), np.int16) / 32768
    assert len(samples) / RATE == pytest.approx(2.0, abs=0.1)
    assert pitch_of(samples[2_000:14_000]) == pytest.approx(900, abs=15)
    assert pitch_of(samples[18_000:30_000]) == pytest.approx(1000, abs=15)


def test_at_the_end_there_is_what_is_left(rising: Path, tmp_path: Path) -> None:
    piece = tmp_path / "piece.wav"
    cut(rising, 11.0, 99.0, piece)
    with wave.open(str(piece)) as file:
        assert file.getnframes() / RATE == pytest.approx(1.0, abs=0.15)


def test_a_recording_that_is_gone(tmp_path: Path) -> None:
    (tmp_path / "text.wav").write_text("no sound")
    for name in ("gone.wav", "text.wav"):
        with pytest.raises(RecordingError, match=f"{name}: cannot be played"):
            cut(tmp_path / name, 0, 1, tmp_path / "piece.wav")


def player(folder: Path, name: str, script: str) -> None:
    path = folder / name
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)


def test_the_first_player_there_is_gets_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert sound.find_player() is None
    assert "looked for ffplay, mpv" in sound.play_file(tmp_path / "x.wav", 1)
    player(tmp_path, "aplay", f'echo "$@" > {tmp_path}/played')
    assert sound.find_player() == ("aplay", "-q")
    assert sound.play_file(tmp_path / "x.wav", 1) == ""
    assert (tmp_path / "played").read_text() == f"-q {tmp_path}/x.wav\n"
    player(tmp_path, "mpv", "exit 1")
    assert sound.play_file(tmp_path / "x.wav", 1) == "mpv could not play it; is the sound on?"


def test_a_player_that_hangs_is_stopped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    player(tmp_path, "aplay", "exec /bin/sleep 60")
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(sound, "_PATIENCE", 0.2)
    assert "could not play it" in sound.play_file(tmp_path / "x.wav", 0.1)
