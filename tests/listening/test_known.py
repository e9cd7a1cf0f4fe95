"""What was understood as it was spoken counts, whatever the long windows make of it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from fieldvoice.hearing.decode import RATE
from fieldvoice.listening.effects import SCRATCHED
from fieldvoice.listening.known import with_known
from fieldvoice.listening.pieces import PieceWriter
from fieldvoice.listening.recover import join
from fieldvoice.logbook.drafts import drafts_of
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.pipeline import AddOptions, add_recordings
from fieldvoice.types import Segment, Signal, Transcript, Word

SAID = "Hive 7, four frames of brood. Gave it two quarts. A tension block, scrap mat. Six boxes."


def words(text: str = SAID) -> list[Word]:
    return [Word(w, n * 0.5, n * 0.5 + 0.4, 0.9) for n, w in enumerate(text.split())]


def span(first: str, last: str) -> tuple[float, float]:
    said = [w.word for w in words()]
    return words()[said.index(first)].start, words()[said.index(last)].end


START, END = span("A", "mat.")
SCRATCH = Signal("scratch", START + 0.15, END - 0.15, END - 0.15, "attention logbook, scratch that")
ANSWER = Signal("answer", END + 1, END + 2, END + 2, "scratched")


def test_what_the_whole_lacks_is_added_at_the_words_that_were_heard_there() -> None:
    opened = Signal("open", 0.0, 0.4, 0.9, "hive")
    added = with_known((opened,), (SCRATCH, ANSWER), words())
    assert [s.name for s in added] == ["open", "scratch", "answer"]
    assert (added[1].start, added[1].end, added[1].until) == (START, END, END)
    assert added[1].said == SCRATCH.said
    # Where nothing at all was heard, its own times stand.
    assert with_known((), (SCRATCH,), []) == (SCRATCH,)


@pytest.mark.parametrize(("name", "later"), [("scratch", 0.0), ("mark", 0.3), ("scratch", -0.3)])
def test_what_the_whole_has_stands(name: str, later: float) -> None:
    found = Signal(name, START + later, END + later, END + later, "x")
    assert with_known((found,), (SCRATCH,), words()) == (found,)


def test_said_twice_is_there_twice_and_an_unknown_name_is_none() -> None:
    again = Signal("scratch", END + 4, END + 6, END + 6, "x")
    odd = Signal("dance", 0.0, 0.4, 0.4, "x")
    assert with_known((again,), (SCRATCH, odd), words())[1:] == (again,)


def test_a_scratch_that_only_the_short_windows_heard_takes_the_row_back(tmp_path: Path) -> None:
    """Through the file: what was noted while it was recorded, then the whole way of `add`."""
    heard = words()
    segment = Segment(heard[0].start, heard[-1].end, SAID, tuple(heard))
    whole = Transcript(SAID, "en", "test", "test", heard[-1].end, (segment,))
    states = {}
    for name, known in (("told", [SCRATCH]), ("untold", [])):
        folder = tmp_path / name
        writer = PieceWriter(folder / "pieces", RATE, datetime(2026, 8, 9, 10, tzinfo=UTC))
        writer.add(np.zeros(int(whole.duration * RATE), np.int16))
        for signal in known:
            writer.given(signal)
        writer.finish()
        file = join(writer.folder, folder).path
        path = folder / "log.db"
        with open_logbook(path, create=True) as logbook:
            add_hive(logbook, "7", "home", datetime(2026, 1, 1, tzinfo=UTC))
        options = AddOptions(yard="home", hear=lambda *_: whole, signals=folder)
        (added,) = add_recordings(path, [file], options)
        assert added.recording is not None
        with open_logbook(path) as logbook:
            drafts = drafts_of(logbook, added.recording.uuid)
        states[name] = {(d.entry.item, d.state, SCRATCHED in d.entry.flags) for d in drafts}
        quotes = " ".join(d.entry.quote for d in drafts)
        assert ("mat" in quotes) <= (name == "untold")
    assert ("syrup", "rejected", True) in states["told"]
    assert ("syrup", "waiting", False) in states["untold"]
