"""`fieldvoice add` on a four-minute recording: speed after load, memory of all processes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from keeper import RATE, Call, demo_sound
from makers import write_sound

pytestmark = pytest.mark.model

MINUTES = 4
# The bar is 10 times real time on two free cores; a busy machine halves that and more.
TIMES_REAL_TIME = 4.0
PEAK_BYTES = 1_200_000_000


def test_four_minutes(fieldvoice: Call, tmp_path: Path, record_property) -> None:
    sound = np.concatenate([demo_sound("orchard-may", 0, 210), demo_sound("ridge-august", 0, 30)])
    assert len(sound) == MINUTES * 60 * RATE
    recording = write_sound(tmp_path / "four.wav", sound, codec="pcm_s16le")
    moment = write_sound(tmp_path / "moment.wav", sound[20 * RATE : 21 * RATE], codec="pcm_s16le")
    loading = fieldvoice("add", moment, logbook=tmp_path / "moment.db")
    done = fieldvoice("add", recording, logbook=tmp_path / "four.db", measure=True)
    assert loading.code == done.code == 0, done.err
    times = MINUTES * 60 / (done.seconds - loading.seconds)
    line = (
        f"4-minute add: {done.seconds:.1f} s, of these {loading.seconds:.1f} s load, "
        f"{times:.1f} times real time after load, peak {done.peak_bytes / 1e6:.0f} MB"
    )
    print(line)
    record_property("speed_and_memory", line)
    assert times >= TIMES_REAL_TIME
    assert done.peak_bytes < PEAK_BYTES
