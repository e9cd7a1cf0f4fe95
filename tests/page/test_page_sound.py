"""The sound that the page gets is the sound of the recording, second for second."""

from __future__ import annotations

import io
import wave
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from makers import query
from page_tools import SECONDS, SOUND, Page, make_logbook, served

from fieldvoice.hearing.decode import decode
from fieldvoice.review.page.sound import HEADER, MOST, RATE, asked_piece, piece_bytes, total_bytes
from fieldvoice.review.waveform import COLUMNS, waveform

HEARD = np.concatenate(list(decode(SOUND)))


def sound_path(page: Page) -> str:
    return f"/recordings/{query(page.logbook, 'SELECT uuid FROM recordings')[0][0]}/sound"


def samples_at(page_bytes: bytes) -> np.ndarray:  # type: ignore[type-arg]
    return np.frombuffer(page_bytes, "<i2").astype(np.float32) / 32768


def alike(one: np.ndarray, other: np.ndarray) -> float:  # type: ignore[type-arg]
    """The best correlation within 20 ms either way: codecs differ by some samples of delay."""
    return max(
        float(np.corrcoef(one[400:-400], np.roll(other, lag)[400:-400])[0, 1])
        for lag in range(-320, 321, 4)
    )


@pytest.mark.parametrize("second", [0, 12, 61, 200])
def test_a_range_gives_just_those_seconds(page: Page, second: int) -> None:
    first = HEADER + second * RATE * 2
    with page.client() as client:
        told = client.get(
            sound_path(page), headers={"range": f"bytes={first}-{first + 3 * RATE * 2 - 1}"}
        )
    assert told.status_code == 206
    assert told.headers["content-range"] == (
        f"bytes {first}-{first + 3 * RATE * 2 - 1}/{total_bytes(SECONDS)}"
    )
    sound = samples_at(told.content)
    assert len(sound) == 3 * RATE
    assert alike(sound, HEARD[second * RATE : (second + 3) * RATE]) > 0.98


def test_the_whole_is_a_wav_file(page: Page) -> None:
    """Read by Python's own wave module, piece by piece as a browser asks."""
    raw = b""
    with page.client() as client:
        while len(raw) < total_bytes(SECONDS):
            told = client.get(sound_path(page), headers={"range": f"bytes={len(raw)}-"})
            assert told.status_code == 206
            assert 0 < len(told.content) <= MOST
            raw += told.content
    with wave.open(io.BytesIO(raw)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, 16_000)
        assert file.getnframes() == round(SECONDS * RATE)
        sound = samples_at(file.readframes(file.getnframes()))
    for at in range(0, min(len(sound), len(HEARD)) - 5 * RATE, 5 * RATE):
        assert alike(sound[at : at + 5 * RATE], HEARD[at : at + 5 * RATE]) > 0.98


@pytest.mark.parametrize(
    "asked", ["bytes=99999999-", "bytes=5-4", "bytes=-", "lines=1-2", "bytes=a-b"]
)
def test_no_such_range(page: Page, asked: str) -> None:
    with page.client() as client:
        assert client.get(sound_path(page), headers={"range": asked}).status_code == 416


def test_a_recording_that_was_moved_is_told_plainly(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    recording = make_logbook(path, sound=tmp_path / "gone.ogg")
    with served(path) as page, page.client() as client:
        told = client.get(sound_path(page))
        assert told.status_code == 404
        assert "moved, deleted or changed" in told.json()["problem"]
        html = client.get(f"/recordings/{recording}").text
        assert "gone.ogg</code> any more" in html
        assert client.get(f"/recordings/{recording}/waveform").json()["columns"] == []


def test_the_first_look_draws_the_waveform_and_keeps_it(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    recording = make_logbook(path, pictured=False)
    with served(path) as page, page.client() as client:
        told = client.get(f"/recordings/{recording}/waveform").json()["columns"]
    assert bytes(told) == waveform([HEARD], SECONDS)
    assert query(path, "SELECT columns FROM waveforms") == [(bytes(told),)]


@given(st.integers(0, 400), st.integers(0, 400), st.floats(0.001, 0.01))
def test_any_pieces_join_to_the_whole(first: int, more: int, duration: float) -> None:
    sound = np.arange(1, 1000, dtype="<i2").tobytes()

    def samples(start: float, end: float) -> list[bytes]:
        return [sound[round(start * RATE) * 2 : round(end * RATE) * 2]]

    everything = asked_piece(None, duration)
    assert everything is not None
    whole = piece_bytes(everything, samples)
    assert len(whole) == total_bytes(duration)
    piece = asked_piece(f"bytes={first}-{first + more}", duration)
    if piece is None:
        assert first >= len(whole)
    else:
        assert piece_bytes(piece, samples) == whole[first : first + more + 1]


@given(st.lists(st.integers(1, 5000), min_size=1, max_size=20))
def test_the_waveform_has_the_highest_peak_of_each_piece(lengths: list[int]) -> None:
    """Against the plain way: the peak of each sample's column, one by one."""
    sound = np.random.default_rng(sum(lengths)).uniform(-1, 1, sum(lengths)).astype(np.float32)
    seconds = len(sound) / RATE
    blocks = np.split(sound, np.cumsum(lengths)[:-1])
    got = np.frombuffer(waveform(blocks, seconds), np.uint8)
    assert len(got) == COLUMNS
    peaks = np.zeros(COLUMNS)
    scale = COLUMNS / max(1.0, seconds * RATE)
    for at, sample in enumerate(np.abs(sound)):
        column = min(COLUMNS - 1, int(at * scale))
        peaks[column] = max(peaks[column], sample)
    assert np.abs(got - peaks / peaks.max() * 255).max() <= 1.5
