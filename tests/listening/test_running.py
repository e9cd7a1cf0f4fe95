"""Heard while it is made: at the end the same windows are found, and nothing is left to hear."""

from __future__ import annotations

from pathlib import Path

import pytest
from hearing_sounds import load

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.store import MemoryStore
from fieldvoice.listening.flac import write_flac
from fieldvoice.listening.running import Running
from fieldvoice.listening.source import to_samples
from fieldvoice.pipeline import hear_recording, hear_running, make_ready
from fieldvoice.settings import Settings
from fieldvoice.types import Register, no_progress

DEMO = Path(__file__).parent.parent.parent / "demo" / "ridge-august.ogg"
REGISTER = Register(tuple(map(str, range(1, 13))))


@pytest.mark.model
def test_nothing_is_heard_twice(tmp_path: Path) -> None:
    samples = to_samples(load(DEMO)[: 50 * RATE])
    running = Running("a session")
    for start in range(0, len(samples), RATE // 10):
        running.hear(samples[start : start + RATE // 10])
    running.end()
    store = MemoryStore()
    hear_running(running, REGISTER, Settings(), store)
    heard = set(store)
    assert len(heard) >= 2

    write_flac(tmp_path / "whole.flac", [samples], RATE)
    make_ready(tmp_path / "whole.flac", Settings(), "a session")
    found = hear_recording(tmp_path / "whole.flac", REGISTER, Settings(), store, no_progress)
    assert set(store) == heard
    assert found.text
    assert found.duration == pytest.approx(50.0)
