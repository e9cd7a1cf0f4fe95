"""Heard and drafted while it is made; at the end nothing is left to hear, nothing is there twice."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import load

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.store import MemoryStore
from fieldvoice.listening.flac import Samples, write_flac
from fieldvoice.listening.pieces import PieceWriter
from fieldvoice.listening.recover import join
from fieldvoice.listening.running import Running, settled
from fieldvoice.listening.source import to_samples
from fieldvoice.logbook.drafts import drafts_of, save_step, waiting_drafts
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import recordings
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.pipeline import (
    AddOptions,
    Growing,
    add_recordings,
    draft_so_far,
    hear_recording,
    hear_running,
    make_ready,
)
from fieldvoice.review.decisions import confirm, reject
from fieldvoice.settings import Settings
from fieldvoice.types import Draft, Register, Segment, Signal, Transcript, Word, no_progress

DEMO = Path(__file__).parent.parent.parent / "demo" / "ridge-august.ogg"
REGISTER = Register(tuple(map(str, range(1, 13))))


def recorded(session: str, samples: Samples) -> Running:
    running = Running(session)
    for start in range(0, len(samples), RATE // 10):
        running.hear(samples[start : start + RATE // 10])
    running.end()
    return running


@pytest.mark.parametrize(
    ("ends", "opens", "until"),
    [((), (), 0.0), ((30.0,), (), 0.0), ((30.0, 400.0), (), 280.0),
     ((400.0,), (30.0,), 280.0), ((400.0,), (30.0, 350.0), 350.0)],
)  # fmt: skip
def test_what_is_settled(ends: tuple[float, ...], opens: tuple[float, ...], until: float) -> None:
    heard = Transcript(
        "", "en", "test", "test", 500.0,
        segments=tuple(Segment(end - 1, end, "so") for end in ends),
        signals=(*(Signal("open", at, at + 1, at + 2, "hive") for at in opens),
                 Signal("mark", 399.0, 400.0, 400.0, "mark this")),
    )  # fmt: skip
    assert settled(heard) == until


def heard_of(text: str, sentences: int) -> Transcript:
    """The first sentences of a narration as if heard, 0.3 s a word, a pause after each."""
    at, segments = 1.0, []
    for sentence in re.split(r"(?<=[.!?]) ", text)[:sentences]:
        words = []
        for word in sentence.split():
            words.append(Word(word, at, at + 0.3, 0.95))
            at += 0.3
        segments.append(Segment(words[0].start, words[-1].end, sentence, tuple(words)))
        at += 1.0
    whole = " ".join(segment.text for segment in segments)
    return Transcript(whole, "en", "test", "test", at, tuple(segments))


def register(path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        for label in REGISTER.labels:
            add_hive(logbook, label, "home", datetime(2026, 1, 1, tzinfo=UTC))


def fact(draft: Draft) -> tuple[object, ...]:
    entry = draft.entry
    return entry.hive, entry.kind, entry.action, entry.item, entry.status, entry.values, entry.start


def test_drafts_while_it_runs_are_those_of_the_whole(tmp_path: Path) -> None:
    """Extraction is the real one; what is heard grows sentence by sentence."""
    files = sorted(DEMO.parent.glob("*.txt"))
    text = " ".join(" ".join(file.read_text(encoding="utf-8").split()) for file in files)
    sentences = len(re.split(r"(?<=[.!?]) ", text))
    whole = heard_of(text, sentences)
    writer = PieceWriter(tmp_path / "listening", RATE, datetime(2026, 8, 9, 10, tzinfo=UTC), "home")
    writer.add(np.zeros(int(whole.duration * RATE), np.int16))
    writer.finish()
    growing = Growing(writer.folder, tmp_path / "recordings", "home")
    options = AddOptions(yard="home", hear=lambda *_: whole, signals=tmp_path)
    path, counts = tmp_path / "log.db", []
    register(path)
    register(tmp_path / "alone.db")
    with open_logbook(path) as logbook:
        for number in range(10, sentences, 4):
            made = draft_so_far(logbook, growing, heard_of(text, number), options)
            if made is not None:
                counts.append(made)
                step = confirm if len(counts) % 2 else reject
                save_step(logbook, step(waiting_drafts(logbook)[-1:], options.clock()))
        (grown,) = recordings(logbook)
        decided = [d for d in drafts_of(logbook, grown.uuid) if d.state != "waiting"]
    assert len(counts) >= 2
    assert 0 < counts[0] < counts[-1]

    file = join(writer.folder, tmp_path / "recordings").path
    (added,) = add_recordings(path, [file], options)
    (alone,) = add_recordings(tmp_path / "alone.db", [file], options)  # at the end alone
    assert added.recording is not None
    assert alone.recording is not None
    assert (added.recording.uuid, added.recording.path) == (grown.uuid, str(file))
    assert added.recording.recorded.at == grown.recorded.at
    with open_logbook(path) as logbook, open_logbook(tmp_path / "alone.db") as other:
        after, expected = drafts_of(logbook, grown.uuid), drafts_of(other, alone.recording.uuid)
        assert len(recordings(logbook)) == 1
    assert [d for d in after if d.state != "waiting"] == decided
    assert sorted(map(str, map(fact, after))) == sorted(map(str, map(fact, expected)))


@pytest.mark.model
def test_nothing_is_heard_twice(tmp_path: Path) -> None:
    samples = to_samples(load(DEMO)[: 50 * RATE])
    running = recorded("a session", samples)
    told: list[Transcript] = []
    running.so_far = told.append
    store = MemoryStore()
    hear_running(running, REGISTER, Settings(), store)
    heard = set(store)
    assert len(heard) >= 2

    write_flac(tmp_path / "whole.flac", [samples], RATE)
    make_ready(tmp_path / "whole.flac", Settings(), "a session")
    found = hear_recording(tmp_path / "whole.flac", REGISTER, Settings(), store, no_progress)
    assert set(store) == heard
    assert [found.text.startswith(one.text) for one in told] == [True] * len(heard)
    assert told[-1].segments == found.segments
    assert found.text
    assert found.duration == pytest.approx(50.0)
