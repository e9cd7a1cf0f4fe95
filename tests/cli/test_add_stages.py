"""A recording goes from stage to stage once, whatever happens in between."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from makers import EGGS, MAY, SYRUP, query
from stand_ins import Rooms, tone

from fieldvoice.errors import InputError, LogbookError, RecordingError
from fieldvoice.logbook.claims import claim
from fieldvoice.logbook.drafts import waiting_drafts
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_alias, add_hive
from fieldvoice.pipeline import Added, add_recordings
from fieldvoice.types import Register


def counts(path: Path) -> tuple[int, int]:
    return (
        query(path, "SELECT count(*) FROM recordings")[0][0],
        query(path, "SELECT count(*) FROM drafts")[0][0],
    )


def test_a_recording_becomes_drafts(path: Path, tmp_path: Path) -> None:
    rooms = Rooms()
    told: list[Added] = []
    stages: list[tuple[str, float, float]] = []
    options = rooms.options(
        recorded_at="2026-05-03T09:30:00+02:00", yard="mill",
        progress=lambda *stage: stages.append(stage),
    )  # fmt: skip
    (added,) = add_recordings(path, [tone(tmp_path / "a.ogg")], options, told.append)
    assert told == [added]
    assert (added.outcome, added.drafts, added.unheard) == ("added", 2, 1)
    assert added.recording is not None
    assert (added.recording.recorded.at, added.recording.recorded.source) == (MAY, "option")
    assert (added.recording.yard, added.recording.path) == ("mill", str(tmp_path / "a.ogg"))
    assert stages[-1] == ("extract", 1, 1)
    with open_logbook(path) as logbook:
        assert [draft.entry for draft in waiting_drafts(logbook)] == [SYRUP, EGGS]


def test_the_register_of_the_logbook_is_asked(path: Path, tmp_path: Path) -> None:
    with open_logbook(path, create=True) as logbook:
        add_hive(logbook, "7", "home", MAY)
        add_alias(logbook, add_hive(logbook, "M1", "mill", MAY), "the old lady", MAY)
    rooms = Rooms()
    asked: list[Register] = []
    options = rooms.options(yard="mill")
    hear = options.hear
    object.__setattr__(options, "hear", lambda *a: (asked.append(a[1]), hear(*a))[1])
    add_recordings(path, [tone(tmp_path / "a.ogg")], options)
    assert asked == [Register(("M1", "7"), {"old lady": "M1"})]


def test_the_same_bytes_under_any_name_are_known(path: Path, tmp_path: Path) -> None:
    rooms = Rooms()
    one = tone(tmp_path / "a.ogg")
    add_recordings(path, [one], rooms.options())
    moved = tmp_path / "elsewhere" / "b.ogg"
    moved.parent.mkdir()
    one.rename(moved)
    (again,) = add_recordings(path, [moved, tmp_path / "elsewhere"], rooms.options())
    assert (again.outcome, again.drafts) == ("known", 2)
    assert rooms.heard == ["a.ogg"]
    assert counts(path) == (1, 2)
    assert query(path, "SELECT path FROM recordings") == [(str(moved),)]


@pytest.mark.parametrize("breaks", [RuntimeError("x"), KeyboardInterrupt(), MemoryError()])
def test_what_was_heard_is_kept_when_extraction_breaks(
    path: Path, tmp_path: Path, breaks: BaseException
) -> None:
    one = tone(tmp_path / "a.ogg")
    with pytest.raises(type(breaks)):
        add_recordings(path, [one], Rooms(extract_breaks=breaks).options())
    assert query(path, "SELECT stage FROM recordings") == [("heard",)]
    rooms = Rooms()
    (added,) = add_recordings(path, [one], rooms.options())
    assert (added.outcome, added.drafts) == ("finished", 2)
    assert rooms.heard == []
    assert counts(path) == (1, 2)


def test_windows_are_kept_when_hearing_breaks(path: Path, tmp_path: Path) -> None:
    one = tone(tmp_path / "a.ogg")
    with pytest.raises(KeyboardInterrupt):
        add_recordings(path, [one], Rooms(hear_breaks=KeyboardInterrupt()).options())
    assert counts(path) == (0, 0)
    assert query(path, "SELECT count(*) FROM windows") == [(2,)]
    (added,) = add_recordings(path, [one], Rooms().options())
    assert added.outcome == "added"


def test_a_bad_one_does_not_keep_out_the_others(path: Path, tmp_path: Path) -> None:
    good, late = tone(tmp_path / "b.ogg"), tone(tmp_path / "day" / "deep" / "C.FLAC", 600)
    (tmp_path / "day" / "list.txt").write_text("sugar")
    (tmp_path / "none").mkdir()
    empty = tmp_path / "a.ogg"
    empty.touch()
    rooms = Rooms()
    done = add_recordings(
        path, [empty, tmp_path / "none", good, tmp_path / "gone.ogg", tmp_path / "day", good],
        rooms.options(),
    )  # fmt: skip
    outcome = {added.path.name: added.outcome for added in done}
    assert outcome == {
        "none": "failed", "a.ogg": "failed", "b.ogg": "added", "gone.ogg": "failed",
        "C.FLAC": "added",
    }  # fmt: skip
    assert len(done) == 5
    assert rooms.heard == [good.name, late.name]
    problems = [added.problem for added in done if added.outcome == "failed"]
    assert all(str(tmp_path) in problem for problem in problems)
    assert "no recording in the folder" in problems[0]


def test_one_that_cannot_be_heard_leaves_no_trace(path: Path, tmp_path: Path) -> None:
    rooms = Rooms(hear_breaks=RecordingError("a.ogg: no sound"))
    (added,) = add_recordings(path, [tone(tmp_path / "a.ogg")], rooms.options())
    assert (added.outcome, added.problem) == ("failed", "a.ogg: no sound")
    assert counts(path) == (0, 0)


def test_a_bad_date_is_refused_before_anything_is_heard(path: Path, tmp_path: Path) -> None:
    rooms = Rooms()
    with pytest.raises(InputError, match="yesterday"):
        add_recordings(path, [tone(tmp_path / "a.ogg")], rooms.options(recorded_at="yesterday"))
    assert rooms.heard == []
    assert not path.exists()


def test_a_logbook_that_cannot_be_written_is_refused_before_anything_is_heard(
    path: Path, tmp_path: Path
) -> None:
    path.write_text("hive 7 was fed\n")
    rooms = Rooms()
    with pytest.raises(LogbookError):
        add_recordings(path, [tone(tmp_path / "a.ogg")], rooms.options())
    assert rooms.heard == []


def test_one_in_the_hands_of_another_is_waited_for_last(path: Path, tmp_path: Path) -> None:
    """A child process has the first recording in hand; the second is not kept waiting."""
    one, two = tone(tmp_path / "1.ogg"), tone(tmp_path / "2.ogg", 700)
    ready, say_ready = os.pipe()
    child = os.fork()
    if child == 0:
        from fieldvoice.hearing.decode import sound_hash

        with claim(path, sound_hash(one), wait=True):
            os.write(say_ready, b"x")
            time.sleep(0.7)
            os._exit(9)  # dies with the claim in its hands
    os.read(ready, 1)
    rooms = Rooms()
    done = add_recordings(path, [one, two], rooms.options())
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    assert rooms.heard == ["2.ogg", "1.ogg"]
    assert [added.outcome for added in done] == ["added", "added"]
    assert [p.name for p in tmp_path.iterdir() if p.suffix == ".claim"] == []


def test_when_it_was_recorded_comes_from_the_file_and_is_said(path: Path, tmp_path: Path) -> None:
    named = tone(tmp_path / "2026-04-02 08.15.wav")
    plain = tone(tmp_path / "note.wav", 500)
    os.utime(plain, (1_777_000_000, 1_777_000_000))
    done = add_recordings(path, [named, plain], Rooms().options())
    known = [added.recording.recorded for added in done if added.recording]
    assert [r.source for r in known] == ["file name", "file time"]
    assert f"{known[0].at:%Y-%m-%d %H:%M}" == "2026-04-02 08:15"
    assert known[1].at.timestamp() == 1_777_000_000
