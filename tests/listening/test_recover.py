"""What is on the disk becomes a recording, whatever happened to whoever wrote it."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.decode import decode
from fieldvoice.hearing.moment import recorded_at
from fieldvoice.listening.flac import Samples, read_flac, write_flac
from fieldvoice.listening.manifest import NAME
from fieldvoice.listening.notes import gaps_in, known_in, session_of
from fieldvoice.listening.pieces import SECONDS, PieceWriter
from fieldvoice.listening.record import record, session
from fieldvoice.listening.recover import forget, join, known_so_far, sessions
from fieldvoice.listening.source import Block, to_samples
from fieldvoice.types import Signal, Stretch

DEMO = Path(__file__).parent.parent.parent / "demo"
MAY = datetime(2026, 5, 9, 10, 20, 30, tzinfo=timezone(timedelta(hours=2)))
RATE = 16_000
KILLS = 50


@dataclass(slots=True)
class Given:
    """Blocks as they are."""

    given: list[Block] = field(default_factory=list)
    rate: int = RATE

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        yield from self.given


def noise(seconds: float, seed: int = 1) -> Samples:
    return np.random.default_rng(seed).integers(-9000, 9000, int(seconds * RATE)).astype(np.int16)


def recorded(folder: Path, blocks: list[Block]) -> Path:
    with session(folder / "pieces", RATE, MAY, "orchard") as writer:
        record(Given(blocks), writer, threading.Event())
    return writer.folder


def sound_of(path: Path) -> Samples:
    return np.concatenate([to_samples(block) for block in decode(path)])


def blocks_of(sound: Samples, size: int = 1600) -> list[Block]:
    return [Block(sound[at : at + size]) for at in range(0, len(sound), size)]


def test_what_was_recorded_comes_back_to_the_last_bit(tmp_path: Path) -> None:
    sound = noise(7.3)
    folder = recorded(tmp_path, blocks_of(sound))
    joined = join(folder, tmp_path / "out")
    assert (sound_of(joined.path) == sound).all()
    assert (joined.seconds, joined.ended, joined.damaged, joined.gaps) == (7.3, True, 0, ())
    assert (joined.yard, joined.began) == ("orchard", MAY)


def test_no_piece_is_longer_than_two_seconds(tmp_path: Path) -> None:
    folder = recorded(tmp_path, blocks_of(noise(9.0)))
    lengths = [sum(map(len, read_flac(p))) / RATE for p in sorted(folder.glob("*.flac"))]
    assert len(lengths) == 6
    assert max(lengths) <= SECONDS + 0.1 <= 2.0


def test_the_file_knows_when_it_began_and_what_was_marked(tmp_path: Path) -> None:
    understood = Signal("open", 0.25, 0.75, 0.9, "Attention logbook, open hive", "7")
    answer = Signal("answer", 1.0, 2.0, 2.0, "hive 7")
    with session(tmp_path / "pieces", RATE, MAY) as writer:
        record(
            Given([Block(noise(2)), Block(noise(1), RATE, "the microphone was away")]),
            writer,
            threading.Event(),
        )
        writer.given(understood)
        writer.answered(RATE, 2 * RATE, "hive 7")
    joined = join(writer.folder, tmp_path / "out")
    moment = recorded_at(joined.path)
    assert (moment.at, moment.source) == (MAY, "container")
    assert known_in(joined.path) == known_so_far(writer.folder) == (understood, answer)
    assert gaps_in(joined.path) == joined.gaps == (Stretch(2.0, 3.0),)
    assert session_of(joined.path) == writer.session


def test_after_a_gap_every_second_is_still_its_own(tmp_path: Path) -> None:
    one, other = noise(2.0), noise(3.0, 2)
    joined = join(
        recorded(tmp_path, [Block(one), Block(np.zeros(0, np.int16), why="the microphone is away"),
                            Block(other, 90 * RATE, "the microphone was away")]),
        tmp_path / "out",
    )  # fmt: skip
    sound = sound_of(joined.path)
    assert len(sound) == 95 * RATE
    assert (sound[92 * RATE :] == other).all()
    assert not sound[2 * RATE : 92 * RATE].any()


def test_joining_twice_gives_the_same_file(tmp_path: Path) -> None:
    folder = recorded(tmp_path, blocks_of(noise(4.0)))
    first = join(folder, tmp_path / "out").path.read_bytes()
    assert join(folder, tmp_path / "out").path.read_bytes() == first
    assert len(list((tmp_path / "out").iterdir())) == 1


def test_a_damaged_piece_is_silent_and_costs_no_other(tmp_path: Path) -> None:
    sound = noise(6.0)
    folder = recorded(tmp_path, blocks_of(sound))
    second = sorted(folder.glob("*.flac"))[1]
    raw = bytearray(second.read_bytes())
    raw[len(raw) // 2] ^= 255
    second.write_bytes(raw)
    joined = join(folder, tmp_path / "out")
    found = sound_of(joined.path)
    a, b = int(SECONDS * RATE), int(2 * SECONDS * RATE)
    assert joined.damaged == 1
    assert not found[a:b].any()
    assert (found[:a] == sound[:a]).all()
    assert (found[b:] == sound[b:]).all()


@pytest.mark.parametrize("keep", [0, 1, 40, 200, 401])
def test_a_torn_list_costs_nothing(tmp_path: Path, keep: int) -> None:
    sound = noise(4.0)
    folder = recorded(tmp_path, blocks_of(sound))
    listed = (folder / NAME).read_bytes()
    (folder / NAME).write_bytes(listed[:keep])
    assert (sound_of(join(folder, tmp_path / "out").path) == sound).all()


def test_a_session_in_use_is_left_alone(tmp_path: Path) -> None:
    with session(tmp_path, RATE, MAY) as writer:
        writer.add(noise(2.0))
        assert sessions(tmp_path) == ()
    assert sessions(tmp_path) == (writer.folder,)
    forget(writer.folder)
    assert sessions(tmp_path) == ()


def test_a_session_without_sound_is_none(tmp_path: Path) -> None:
    with session(tmp_path, RATE, MAY) as writer:
        writer.finish()
    assert sessions(tmp_path) == ()
    with pytest.raises(RecordingError, match="no sound"):
        join(writer.folder, tmp_path / "out")


def test_a_full_disk_is_told_and_what_is_there_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    writer = PieceWriter(tmp_path, RATE, MAY)
    writer.add(noise(1.6))

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("fieldvoice.listening.pieces.write_flac", full)
    with pytest.raises(RecordingError, match=r"No space left.*make room"):
        writer.add(noise(1.6))
    assert join(writer.folder, tmp_path / "out").seconds == pytest.approx(1.6)


def test_notes_survive_in_flac(tmp_path: Path) -> None:
    write_flac(tmp_path / "a.flac", [noise(0.1)], RATE, {"creation_time": MAY.isoformat()})
    assert recorded_at(tmp_path / "a.flac").at == MAY


@pytest.mark.parametrize(
    "note",
    ["7", "{}x", '[["open", 1]]', "[" * 5000, '[["open", NaN, 1, 1, "", ""]]',
     '[["open", 2, 1, 1, "", ""]]', '[["open", 0, 1, Infinity, "", ""]]', '["abcdef"]'],
)  # fmt: skip
def test_notes_of_another_program_tell_nothing(tmp_path: Path, note: str) -> None:
    write_flac(tmp_path / "a.flac", [noise(0.1)], RATE, {"FIELDVOICE_SIGNALS": note})
    assert known_in(tmp_path / "a.flac") == ()


def test_killed_at_fifty_random_moments(tmp_path: Path) -> None:
    """Each time at most two seconds are missing, and what is left is what was said."""
    done = subprocess.run(
        [sys.executable, Path(__file__).parent / "killing.py", tmp_path,
         DEMO / "ridge-august.ogg", str(KILLS), "7"],
        capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    results = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(results) == KILLS
    assert sum(left > 5.0 for _, left, _, _ in results) > KILLS / 2
    assert any(left < spoken for spoken, left, _, _ in results)  # it was killed, not ended
    for spoken, left, same, damaged in results:
        assert spoken - left <= 2.0
        assert same
        assert damaged == 0
