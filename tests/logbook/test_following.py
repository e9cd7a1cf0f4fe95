"""Recordings that follow each other: the yard and the open hive carry over a cut, with a flag."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from makers import MAY, recording

from fieldvoice.answers.history import visits
from fieldvoice.hearing.decode import RATE
from fieldvoice.listening.flac import write_flac
from fieldvoice.logbook.drafts import waiting_drafts
from fieldvoice.logbook.following import GAP, recording_before
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import keep_heard, recordings
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.pipeline import AddOptions, add_recordings
from fieldvoice.types import Entry, LogRow, Progress, Register, Segment, Transcript, Word

SAID = {
    "one": "Hive 7. Four frames of brood. Hive 8. Two quarts of one to one.",
    "two": "Six frames of honey. Hive 5. Three frames of brood.",
}


def say(text: str) -> Transcript:
    words = tuple(Word(w, n * 0.4, n * 0.4 + 0.3, 0.95) for n, w in enumerate(text.split()))
    segment = Segment(0.0, words[-1].end, text, words)
    return Transcript(text, "en", "test", "test", words[-1].end, (segment,))


def hear(
    path: Path, register: Register, settings: Any, store: Any, progress: Progress
) -> Transcript:
    return say(SAID[path.stem])


def sound(folder: Path, name: str, begins: float) -> Path:
    """A recording whose file knows when it began; another name gives another content."""
    path = folder / f"{name}.flac"
    when = MAY + timedelta(seconds=begins)
    tone = np.full(RATE // 4, len(name) + ord(name[0]), np.int16)
    write_flac(path, [tone], RATE, {"creation_time": when.isoformat()})
    return path


def rows_of(tmp_path: Path, apart: float) -> list[tuple[str, str | None, bool]]:
    """What the second recording gave, when it began so long after the first ended."""
    path = tmp_path / "log.db"
    with open_logbook(path, create=True) as logbook:
        for label in ("5", "7", "8"):
            add_hive(logbook, label, "orchard", MAY)
    options = AddOptions(hear=hear, clock=lambda: MAY)
    lasted = say(SAID["one"]).duration
    (first,) = add_recordings(
        path, [sound(tmp_path, "one", 0.0)],
        AddOptions(hear=hear, clock=lambda: MAY, yard="orchard"),
    )  # fmt: skip
    assert first.outcome == "added"
    (second,) = add_recordings(path, [sound(tmp_path, "two", lasted + apart)], options)
    assert second.recording is not None
    with open_logbook(path) as logbook:
        drafts = waiting_drafts(logbook, second.recording.uuid)
        yards = [r.yard for r in recordings(logbook)]
    assert yards == ["orchard", "orchard" if apart <= GAP else "home"]
    return [(d.entry.kind, d.entry.hive, "hive-assumed" in d.entry.flags) for d in drafts]


@pytest.mark.parametrize("apart", [0.0, 59.0])
def test_the_open_hive_and_the_yard_carry_over(tmp_path: Path, apart: float) -> None:
    rows = rows_of(tmp_path, apart)
    assert ("stores", "8", True) in rows
    assert ("brood", "5", False) in rows
    assert {hive for _, hive, _ in rows} == {"5", "8"}


def test_a_later_recording_begins_anew(tmp_path: Path) -> None:
    assert "8" not in {hive for _, hive, _ in rows_of(tmp_path, GAP + 2.0)}


@pytest.mark.parametrize(
    ("seconds", "yard", "found"),
    [(40, "home", True), (99, "home", True), (36, "home", True), (101, "home", False),
     (30, "home", False), (45, "ridge", False), (45, None, True)],
)  # fmt: skip
def test_which_recording_comes_before(
    tmp_path: Path, seconds: float, yard: str | None, found: bool
) -> None:
    """The first lasts 40 s; recorders' clocks are out by up to five."""
    with open_logbook(tmp_path / "log.db", create=True) as logbook:
        before = keep_heard(logbook, recording(), say("four frames " * 60), MAY)
        assert before.duration == 40.0
        logbook.execute("UPDATE recordings SET duration_s = 40.0")
        other = recording_before(logbook, MAY + timedelta(seconds=seconds), yard)
        assert (other is not None) == found


def test_one_day_at_one_yard_is_one_visit() -> None:
    def row(hours: float, yard: str, name: str) -> LogRow:
        at = MAY + timedelta(hours=hours)
        return LogRow(
            name, f"recording {name}", yard, at, at, Entry("7", "note", "see", "note", "seen")
        )

    rows = [row(0, "home", "a"), row(2, "home", "b"), row(3, "ridge", "c"), row(24, "home", "d")]
    found = visits(rows)
    assert [[r.uuid for r in v.rows] for v in found] == [["a", "b"], ["c"], ["d"]]
    assert [(v.at, v.yard) for v in found][:2] == [
        (MAY, "home"),
        (MAY + timedelta(hours=3), "ridge"),
    ]
    assert [v.at for v in visits(rows[1::-1])] == [MAY]
