"""The loop: level, warnings, the clock, and a file that stands in for the microphone."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import write
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.listening.flac import Samples
from fieldvoice.listening.meter import Meter, clips
from fieldvoice.listening.pace import MOST, Pace
from fieldvoice.listening.record import record, session
from fieldvoice.listening.source import FileSource

RATE = 16_000


def sine(peak: float, seconds: float = 0.1) -> Samples:
    t = np.arange(int(RATE * seconds)) / RATE
    return (peak * 32767 * np.sin(2 * np.pi * 440 * t)).astype(np.int16)


@pytest.mark.parametrize(("peak", "decibel"), [(1.0, 0.0), (0.5, -6.02), (0.1, -20.0)])
def test_level_in_decibels_of_full_scale(peak: float, decibel: float) -> None:
    """AES17: a full-scale sine has its peak at 0 dBFS; its rms is 3.01 dB below the peak."""
    level = Meter(RATE).take(sine(peak))
    assert level.peak == pytest.approx(decibel, abs=0.05)
    assert level.loud == pytest.approx(decibel - 3.01, abs=0.05)


def test_too_loud_is_said_once_in_ten_seconds() -> None:
    meter = Meter(RATE)
    loud = np.clip(sine(0.9).astype(np.int32) * 3, -32768, 32767).astype(np.int16)
    said = [meter.take(loud).warning for _ in range(150)]  # 15 s
    assert [n for n, text in enumerate(said) if text] == [0, 100]
    assert "Too loud" in said[0]
    assert not clips(sine(1.0, 0.02)[:30])


def test_nothing_from_the_microphone_is_said_and_when_it_is_back() -> None:
    meter = Meter(RATE)
    zeros = np.zeros(RATE // 10, np.int16)
    said = [meter.take(zeros).warning for _ in range(60)]
    assert [n for n, text in enumerate(said) if text] == [49]
    assert "muted" in said[49]
    assert "sound again" in meter.take(sine(0.1)).warning
    assert not meter.take(sine(0.1)).warning


def test_a_quiet_moment_is_no_fault() -> None:
    meter = Meter(RATE)
    room = np.random.default_rng(1).integers(-12, 12, RATE // 10).astype(np.int16)  # -69 dBFS
    assert not any(meter.take(room).warning for _ in range(200))


def run(pace: Pace, late: list[float], start: float = 100.0) -> int:
    """Blocks of 0.1 s, each so late; gives the samples put in."""
    return sum(pace.missing(start + 0.1 * (n + 1) + x, 1600) for n, x in enumerate(late))


@given(st.lists(st.floats(0.0, 3.0), min_size=60, max_size=200))
def test_late_blocks_alone_are_no_loss(jitter: list[float]) -> None:
    """As long as one block in five seconds is in time, nothing is missing."""
    late = [0.0 if n % 40 == 0 else x for n, x in enumerate(jitter)]
    assert run(Pace(RATE), late) == 0


def test_lost_blocks_are_put_in() -> None:
    late = [0.0] * 60 + [0.5] * 100
    assert run(Pace(RATE), late) == 8000


@pytest.mark.parametrize("parts_per_million", [50, 200, 1000])
def test_a_slow_card_stays_within_a_tenth_of_a_second(parts_per_million: int) -> None:
    """Two hours by the card's clock: what is put in keeps the seconds true."""
    blocks = 72_000
    drift = parts_per_million * 1e-6 * 0.1
    put_in = run(Pace(RATE), [n * drift for n in range(blocks)])
    assert abs(put_in / RATE - blocks * drift) <= 0.1
    assert MOST < 0.1


def test_a_file_is_spoken_in_its_own_time(tmp_path: Path) -> None:
    sound = sine(0.5, 1.5)
    path = write(tmp_path / "a.wav", sound.astype(np.float32) / 32768, "pcm_s16le")
    lasted = []
    for speed in (1.0, 5.0):
        began = time.monotonic()
        heard = np.concatenate([b.sound for b in FileSource(path, speed).blocks(threading.Event())])
        lasted.append(time.monotonic() - began)
        assert (heard == sound).all()
    assert lasted[0] >= 1.4
    assert 0.25 <= lasted[1] < lasted[0]


def test_stop_ends_it_cleanly(tmp_path: Path) -> None:
    path = write(tmp_path / "a.wav", sine(0.5, 30).astype(np.float32) / 32768, "pcm_s16le")
    stop = threading.Event()
    with session(tmp_path / "s", RATE, datetime.now(UTC)) as writer:
        threading.Timer(0.5, stop.set).start()
        record(FileSource(path), writer, stop)
    assert 0 < writer.place <= 5.0 * RATE
    assert (
        (writer.folder / "manifest.jsonl").read_text().splitlines()[-1].startswith('{"mark": "end"')
    )
