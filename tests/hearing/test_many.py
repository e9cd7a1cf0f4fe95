"""Recordings through the whole way with the real engine: one that is killed, and fifty."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import RATE, joined, librivox, load, prompts, write

from fieldvoice.hearing.decode import sound_hash
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import find_recording, transcript_of
from fieldvoice.pipeline import AddOptions, add_recordings, hear_recording, make_ready
from fieldvoice.types import Transcript

pytestmark = pytest.mark.model
LONG = 120  # seconds: some windows, so that it can be killed between them
COMMAND = [str(Path(sys.executable).parent / "fieldvoice"), "add", "--engine", "ctranslate2"]


def add(logbook: Path, recording: Path) -> subprocess.Popen[bytes]:
    environment = os.environ | {"FIELDVOICE_LOGBOOK": str(logbook)}
    return subprocess.Popen([*COMMAND, str(recording)], env=environment, stdout=subprocess.DEVNULL)


def windows_in(logbook: Path) -> int:
    try:
        with sqlite3.connect(logbook) as base:
            return int(base.execute("SELECT count(*) FROM windows").fetchone()[0])
    except sqlite3.OperationalError:  # not made yet
        return 0


def heard(logbook: Path, recording: Path) -> Transcript:
    with open_logbook(logbook) as opened:
        known = find_recording(opened, sound_hash(recording))
        assert known is not None
        return transcript_of(opened, known.uuid)


def test_killed_three_times_the_transcript_is_the_same(tmp_path: Path) -> None:
    """`tests/benchmarks/long_recording.py` does this with two hours of talk."""
    clips = [load(path) for path, _ in [*librivox(), *prompts(9)]]
    sound, _ = joined(clips, gap=1.0)
    recording = write(tmp_path / "long.wav", sound[: LONG * RATE], "pcm_s16le")
    whole, broken = tmp_path / "whole.db", tmp_path / "broken.db"
    assert add(whole, recording).wait() == 0
    count = windows_in(whole)
    assert count >= 5
    rng = np.random.default_rng()
    stops = sorted(rng.choice(np.arange(1, count - 1), 3, replace=False))
    for stop in stops:
        process = add(broken, recording)
        while windows_in(broken) < stop:
            assert process.poll() is None, f"it was done before it could be killed at {stops}"
            time.sleep(0.01)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert windows_in(broken) < count
    assert add(broken, recording).wait() == 0
    assert heard(broken, recording) == heard(whole, recording)


def test_a_folder_of_fifty(tmp_path: Path) -> None:
    folder = tmp_path / "card"
    folder.mkdir()
    clips = [load(path)[:RATE] for path, _ in prompts(50)]
    assert len(clips) == 50
    for i, clip in enumerate(clips):
        write(folder / f"{i:02}.wav", clip, "pcm_s16le")
    told: list[tuple[str, float, float]] = []
    options = AddOptions(
        hear=hear_recording, ready=make_ready, extract=lambda *a: (), progress=lambda *a: told.append(a)
    )  # fmt: skip
    done = add_recordings(tmp_path / "log.db", [folder], options)
    assert [a.path.name for a in done] == [f"{i:02}.wav" for i in range(50)]
    assert {a.outcome for a in done} == {"added"}
    at = [done for stage, done, _ in told if stage == "hear"]
    assert at == sorted(at)
    whole = sum(map(len, clips)) / RATE
    assert all(total == pytest.approx(whole, abs=1) for stage, _, total in told if stage == "hear")
    again = add_recordings(tmp_path / "log.db", [folder], options)
    assert {a.outcome for a in again} == {"known"}
