from __future__ import annotations

import threading
import time
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import RATE, joined, librivox, load, write

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.ahead import DEPTH, Ahead
from fieldvoice.hearing.several import Several
from fieldvoice.hearing.vad import spoken
from fieldvoice.hearing.windows import windows


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Path:
    sound, _ = joined([load(path) for path, _ in librivox()], gap=1.0)
    return write(tmp_path_factory.mktemp("sound") / "reading.wav", sound, "pcm_s16le")


def wait_for(ahead: Ahead) -> None:
    for _ in range(200):
        if ahead._work.done() or ahead._waiting.full():
            return
        time.sleep(0.05)
    pytest.fail("nothing was decoded in ten seconds")


def test_a_recording_is_decoded_before_anybody_asks_for_it(reading: Path) -> None:
    ahead = Ahead(reading)
    wait_for(ahead)
    decoded = ahead.decoding.duration
    assert decoded == pytest.approx(len(load(reading)) / RATE, abs=0.1)
    plain = windows(spoken([load(reading)]))
    assert [w.key for w in ahead] == [w.key for w in plain]


def test_only_a_few_windows_wait(tmp_path: Path, reading: Path) -> None:
    long = write(tmp_path / "long.wav", np.tile(load(reading), 8), "pcm_s16le")
    ahead = Ahead(long, longest=8.0)
    wait_for(ahead)
    time.sleep(0.5)
    assert ahead._waiting.qsize() == DEPTH
    assert ahead.decoding.duration < 8 * (DEPTH + 6)
    assert all(w.seconds <= 8.0 for w, _ in zip(ahead, range(3), strict=False))
    ahead.close()
    assert not any(t.name.startswith("decode") for t in threading.enumerate() if t.is_alive())


def test_what_is_wrong_with_a_file_is_told_when_it_is_its_turn(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_text("no sound")
    ahead = Ahead(tmp_path / "a.wav")
    with pytest.raises(RecordingError, match="no sound recording"):
        list(ahead)
    with pytest.raises(RecordingError, match="no such file"):
        Ahead(tmp_path / "b.wav")


def test_time_left_is_that_of_all_recordings(reading: Path, tmp_path: Path) -> None:
    told: list[tuple[str, float, float]] = []
    length = len(load(reading)) / RATE
    other = write(tmp_path / "other.wav", load(reading)[: 10 * RATE], "pcm_s16le")
    broken = tmp_path / "broken.wav"
    broken.write_text("no sound")
    several = Several([reading, broken, other], lambda *a: told.append(a))
    several.progress(reading)("hear", 5.0, length)
    several.progress(reading)("extract", 0, 1)
    several.through(reading, heard=True)
    several.through(broken, heard=False)
    several.progress(other)("hear", 10.0, 10.0)
    whole = pytest.approx(length + 10.0, abs=0.1)
    assert told == [("hear", 5.0, whole), ("extract", 0, 1), ("hear", whole, whole)]
