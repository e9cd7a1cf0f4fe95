"""What is whole, what is one take, and what is left alone."""

from __future__ import annotations

import configparser
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import write
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.decode import RATE, decode
from fieldvoice.hearing.moment import recorded_at
from fieldvoice.listening.chapters import join_chapters
from fieldvoice.listening.inbox import (
    Part,
    Patience,
    State,
    counts_on,
    look,
    probe,
    still_coming,
    takes,
)
from fieldvoice.listening.service import unit

MAY = datetime(2026, 5, 9, 10, 20, tzinfo=timezone(timedelta(hours=2)))
AAC = ("aac", 48_000, 2)


def part(name: str, begins: float = 0.0, seconds: float = 60.0, make: tuple = AAC) -> Part:
    return Part(Path("/in") / name, MAY + timedelta(seconds=begins), seconds, make)


def names(parts: list[Part]) -> list[list[str]]:
    return [[p.path.name for p in take] for take in takes(parts)]


@given(
    st.text("ab_-", max_size=4),
    st.integers(0, 12_000),
    st.integers(1, 6),
    st.text("ab.", max_size=4),
)
def test_the_next_number_follows(before: str, number: int, digits: int, after: str) -> None:
    one, other = (f"{before}{n:0{digits}}{after}" for n in (number, number + 1))
    assert counts_on(one, other)
    assert not counts_on(other, one)
    assert not counts_on(one, one)
    assert not counts_on(one, f"{before}{number + 2:0{digits}}{after}")


def test_chapters_of_one_take_are_joined_in_order() -> None:
    chapters = [part("GX030042.MP4", 120), part("GX010042.MP4"), part("GX020042.MP4", 60.4)]
    other = part("GX010043.MP4", 3600)
    assert names([*chapters, other]) == [
        ["GX010042.MP4", "GX020042.MP4", "GX030042.MP4"], ["GX010043.MP4"],
    ]  # fmt: skip


def test_chapters_that_all_say_the_begin_of_the_take() -> None:
    assert names([part("r_002.wav"), part("r_001.wav"), part("r_003.wav")]) == [
        ["r_001.wav", "r_002.wav", "r_003.wav"]
    ]


@pytest.mark.parametrize(
    "second",
    [
        part("yard_02.wav", 64.0),  # four seconds later
        part("yard_02.wav", 56.0),  # four seconds before the first ended
        part("yard_03.wav", 60.0),  # a number is missing
        part("ridge_02.wav", 60.0),
        part("yard_02.wav", 60.0, make=("aac", 44_100, 2)),
        part("other/yard_02.wav", 60.0),
    ],
)
def test_what_is_no_chapter_stays_alone(second: Part) -> None:
    assert len(names([part("yard_01.wav"), second])) == 2


def test_a_take_waits_for_the_chapter_that_is_being_written() -> None:
    take = [part("a_1.wav"), part("a_2.wav", 60)]
    assert still_coming(take, [Path("/in/a_3.wav")])
    assert not still_coming(take, [Path("/in/a_4.wav"), Path("/in/b/a_3.wav")])


def test_a_file_that_grows_is_not_whole() -> None:
    now = 0.0
    patience = Patience(10.0, lambda: now)
    path = Path("a.wav")
    for size in (100, 200, 300):
        assert not patience.whole({path: State(size, 1)})
        now += 9.0
    assert not patience.whole({path: State(300, 1)})
    now += 2.0
    assert patience.whole({path: State(300, 1)}) == {path}
    assert not patience.whole({path: State(300, 2)})  # written again
    assert not patience.whole({})


def test_what_is_looked_at(tmp_path: Path) -> None:
    for name in ("a.wav", "B.MP4", "c.txt", ".d.wav", "e.wav.part", "sub/f.m4a", ".sync/g.wav"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    (tmp_path / "empty.wav").touch()
    assert {p.name for p in look(tmp_path)} == {"a.wav", "B.MP4", "f.m4a"}
    with pytest.raises(RecordingError, match="no such folder"):
        look(tmp_path / "none")


def test_chapters_become_one_recording_and_stay_as_they_are(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    sounds = [rng.uniform(-0.5, 0.5, RATE * n).astype(np.float32) for n in (2, 3)]
    parts = []
    for number, (sound, begins) in enumerate(zip(sounds, (0.0, 2.0), strict=True), 1):
        when = (MAY + timedelta(seconds=begins)).isoformat()
        path = write(tmp_path / f"r_{number}.flac", sound, "flac", metadata={"creation_time": when})
        parts.append(probe(path))
    before = [p.path.read_bytes() for p in parts]
    (take,) = takes(parts)
    joined = join_chapters(take, ["a" * 64, "b" * 64], tmp_path / "out")
    assert join_chapters(take, ["a" * 64, "b" * 64], tmp_path / "out") == joined
    whole = np.concatenate(list(decode(joined)))
    assert np.abs(whole - np.concatenate(sounds)).max() < 1e-4
    assert recorded_at(joined).at == MAY
    assert [p.path.read_bytes() for p in parts] == before


def test_no_sound_is_told(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"nothing of the sort" * 50)
    with pytest.raises(RecordingError, match="no sound recording"):
        probe(tmp_path / "a.wav")


def test_the_unit_is_one_that_systemd_reads() -> None:
    """Sections and keys of systemd.service(5); %% is a percent sign, $$ a dollar there."""
    text = unit(
        ["/opt/my env/bin/python", "-m", "fieldvoice", "watch", '/a "b" 100% $x'], "/a 100%"
    )
    read = configparser.RawConfigParser()
    read.optionxform = str  # type: ignore[assignment,method-assign]
    read.read_string(text)
    assert read["Service"]["ExecStart"] == (
        '"/opt/my env/bin/python" "-m" "fieldvoice" "watch" "/a \\"b\\" 100%% $$x"'
    )
    assert read["Unit"]["Description"].endswith("/a 100%%")
    assert read["Install"]["WantedBy"] == "default.target"
