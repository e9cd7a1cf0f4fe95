from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.vad import HOP, Spoken
from fieldvoice.hearing.windows import WINDOW, windows

stretches = st.lists(
    st.tuples(st.integers(0, 500), st.integers(1, 840)), min_size=0, max_size=30
)  # (quiet before it, length) in hops of 32 ms


def build(lengths: list[tuple[int, int]]) -> list[Spoken]:
    out, at = [], 0
    for quiet, length in lengths:
        at += quiet
        sound = np.arange(at * HOP, (at + length) * HOP, dtype=np.float32)
        out.append(Spoken(at * HOP, sound, np.ones(length, np.float32)))
        at += length
    return out


@given(stretches)
def test_windows_hold_all_speech_once_and_in_order(lengths: list[tuple[int, int]]) -> None:
    spoken = build(lengths)
    made = list(windows(spoken))
    pieces = [(w, p) for w in made for p in w.pieces]
    assert [(p.start, p.length) for _, p in pieces] == [(s.start, len(s.sound)) for s in spoken]
    for w, p in pieces:
        inside = w.sound[p.offset : p.offset + p.length]
        assert np.array_equal(inside, np.arange(p.start, p.start + p.length, dtype=np.float32))
    assert all(w.seconds <= WINDOW for w in made)


@given(stretches.filter(bool), st.floats(-5, 40))
def test_a_time_is_inside_its_piece(lengths: list[tuple[int, int]], second: float) -> None:
    for window in windows(build(lengths)):
        index = window.piece_at(second)
        piece = window.pieces[index]
        at = window.time(second, index)
        assert piece.start - 1e-6 <= at * RATE <= piece.start + piece.length + 1e-6
        if 0 <= second < window.seconds:
            assert piece.offset <= second * RATE <= piece.offset + piece.length


def test_neighbours_are_joined_while_they_fit() -> None:
    ten = int(10 * RATE / HOP)
    made = list(windows(build([(20, ten)] * 5)))
    assert [len(w.pieces) for w in made] == [2, 2, 1]


def test_keys_tell_windows_apart() -> None:
    a, b = windows(build([(3, 800), (4, 800)]))
    assert a.key != b.key
    assert a.key == next(windows(build([(3, 800)]))).key
