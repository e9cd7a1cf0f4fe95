from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from faster_whisper.vad import get_speech_timestamps
from hearing_sounds import hum, joined, librivox, load, mixed, prompts, wind
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.vad import HOP, VadOptions, VoiceDetector, spoken


def blocks(sound: np.ndarray, size: int = 10 * RATE) -> Iterator[np.ndarray]:
    for i in range(0, len(sound), size):
        yield sound[i : i + size]


@pytest.fixture(scope="module")
def sentences() -> tuple[np.ndarray, list[tuple[float, float]]]:
    return joined([load(path) for path, _ in librivox()], gap=4.0)


def test_each_sentence_is_found_where_it_stands(
    sentences: tuple[np.ndarray, list[tuple[float, float]]],
) -> None:
    sound, places = sentences
    found = [(s.start / RATE, s.end / RATE) for s in spoken(blocks(sound))]
    for start, end in places:
        inside = [(a, b) for a, b in found if a < end and b > start]
        assert inside, f"nothing found between {start} and {end}"
        # The clips hold a little quiet of their own; the pads are 0.3 s.
        assert inside[0][0] == pytest.approx(start, abs=0.7)
        assert inside[-1][1] == pytest.approx(end, abs=0.7)
    assert sum(b - a for a, b in found) < sum(b - a for a, b in places) + 0.7 * len(places)


def test_it_agrees_with_silero_run_over_the_whole_file() -> None:
    """faster-whisper's get_speech_timestamps is the published algorithm, not streamed."""
    sound, _ = joined([load(path) for path, _ in prompts(6)], gap=1.5)
    options = VadOptions()
    published = get_speech_timestamps(
        sound,
        threshold=options.threshold,
        neg_threshold=options.release,
        min_silence_duration_ms=int(options.min_silence * 1000),
        min_speech_duration_ms=int(options.min_speech * 1000),
        speech_pad_ms=int(options.pad * 1000),
    )
    ours = list(spoken(blocks(sound)))
    assert len(ours) == len(published)
    for mine, theirs in zip(ours, published, strict=True):
        assert abs(mine.start - theirs["start"]) <= 2 * HOP
        # Silero gives a quiet shorter than two pads to both sides, half each.
        assert abs(mine.end - theirs["end"]) <= 3 * HOP


def test_the_stream_remembers_over_block_borders() -> None:
    sound = load(librivox()[0][0])
    sound = sound[: len(sound) // HOP * HOP]
    whole = VoiceDetector()(sound)
    detector = VoiceDetector()
    parts = [detector(sound[i : i + 7 * HOP]) for i in range(0, len(sound), 7 * HOP)]
    assert np.allclose(whole, np.concatenate(parts), atol=1e-4)


@pytest.mark.parametrize("size", [1, 100, 512, 4_001, 160_000])
def test_block_sizes_do_not_matter(size: int) -> None:
    sound = load(librivox()[1][0])[: 2 * RATE] if size == 1 else load(librivox()[1][0])
    expected = [(s.start, s.end) for s in spoken([sound])]
    assert [(s.start, s.end) for s in spoken(blocks(sound, size))] == expected


@pytest.mark.parametrize(
    "noise",
    [
        np.zeros(60 * RATE, np.float32),
        wind(300),
        hum(300),
        wind(120, seed=5) + hum(120, seed=6),
        (0.001 * np.random.default_rng(3).standard_normal(60 * RATE)).astype(np.float32),
    ],
    ids=["silence", "wind", "hum", "wind and hum", "hiss"],
)
def test_no_speech_in_what_is_none(noise: np.ndarray) -> None:
    assert sum(s.end - s.start for s in spoken(blocks(noise))) / RATE < 0.01 * len(noise) / RATE


@pytest.mark.parametrize("decibel", [10, 0])
def test_speech_is_found_in_wind(
    sentences: tuple[np.ndarray, list[tuple[float, float]]], decibel: int
) -> None:
    sound, places = sentences
    covered = np.zeros(len(sound), bool)
    for s in spoken(blocks(mixed(sound, wind(len(sound) / RATE + 1), decibel))):
        covered[s.start : s.end] = True
    kept = [covered[int(a * RATE) : int(b * RATE)].mean() for a, b in places]
    assert min(kept) > (0.95 if decibel else 0.85)


def test_speech_without_a_pause_is_cut_into_short_pieces_that_fit_together() -> None:
    sound = np.concatenate([load(path) for path, _ in librivox()] * 4)
    # Release at zero: no pause ever counts, as in a gale.
    pieces = list(spoken(blocks(sound), VadOptions(release=-1.0)))
    assert len(pieces) >= 3
    assert max(len(p.sound) for p in pieces) <= 28 * RATE
    for left, right in pairwise(pieces):
        assert left.end == right.start
    assert all(np.array_equal(p.sound, sound[p.start : p.end]) for p in pieces[:-1])


@settings(max_examples=25, deadline=None)
@given(
    gaps=st.lists(st.floats(0.0, 2.0), min_size=1, max_size=4),
    size=st.integers(300, 50_000),
)
def test_stretches_are_ordered_and_hold_the_recordings_sound(gaps: list[float], size: int) -> None:
    clip = load(librivox()[1][0])
    sound = np.concatenate(
        [np.concatenate([np.zeros(int(g * RATE), np.float32), clip]) for g in gaps]
    )
    last = 0
    for s in spoken(blocks(sound, size)):
        assert s.start >= last
        last = s.end
        assert np.array_equal(s.sound[: len(sound) - s.start], sound[s.start : s.end])
        assert len(s.voice) * HOP == len(s.sound)
