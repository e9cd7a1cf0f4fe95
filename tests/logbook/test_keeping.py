"""What goes into the logbook comes out the same; what was decided is kept for good."""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from logbook_makers import entries
from makers import EGGS, HEARD, MAY, SYRUP, drafted, recording

from fieldvoice.errors import InputError, StaleError
from fieldvoice.logbook.drafts import (
    get_drafts,
    keep_drafts,
    save_step,
    steps,
    waiting_drafts,
)
from fieldvoice.logbook.entries import log_rows
from fieldvoice.logbook.moments import local_moment, offset_minutes, utc_text
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import (
    find_recording,
    get_recording,
    keep_heard,
    keep_path,
    looked_at_unheard,
    transcript_of,
    unheard,
)
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.logbook.windows import Windows
from fieldvoice.review import decisions


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Any]:
    with open_logbook(tmp_path / "log.db", create=True) as opened:
        for label in ("7", "8", "A3", "nuc 2", "blue"):
            add_hive(opened, label, "home", MAY)
        yield opened


@pytest.fixture(scope="module")
def shared() -> Iterator[Any]:
    """One logbook for all that hypothesis draws; rows are only ever added to it."""
    with (
        tempfile.TemporaryDirectory() as folder,
        open_logbook(Path(folder) / "log.db", create=True) as opened,
    ):
        for label in ("7", "A3", "nuc 2", "blue"):
            add_hive(opened, label, "home", MAY)
        opened.execute("PRAGMA synchronous = OFF")  # hundreds of logbooks' worth of commits
        yield opened


@settings(max_examples=120, deadline=None)
@given(drawn=st.lists(entries, min_size=1, max_size=4))
def test_rows_come_back_as_they_were(shared: Any, drawn: list[Any]) -> None:
    number = shared.execute("SELECT count(*) FROM recordings").fetchone()[0] + 1
    drafts = drafted(shared, drawn, number)
    key = repr
    assert sorted((d.entry for d in drafts), key=key) == sorted(drawn, key=key)
    # Confirming checks nothing that extraction may not give; the log holds it just the same.
    save_step(shared, decisions.confirm(drafts, MAY))
    kept = [row.entry for row in log_rows(shared) if row.recording == drafts[0].recording]
    assert sorted(kept, key=key) == sorted(drawn, key=key)
    # The history gives the same drafts back, whatever they hold.
    step = next(steps(shared))
    assert sorted((c.before for c in step.changes), key=key) == sorted(drafts, key=key)


@given(st.integers(-(10**10), 10**11), st.integers(-14 * 60, 14 * 60))
def test_moments_come_back(seconds: int, offset: int) -> None:
    moment = datetime.fromtimestamp(seconds, timezone(timedelta(minutes=offset)))
    back = local_moment(utc_text(moment), offset_minutes(moment))
    assert back == moment
    assert back.utcoffset() == moment.utcoffset()


def test_a_recording_is_known_by_its_bytes(logbook: Any) -> None:
    first = keep_heard(logbook, recording(1), HEARD, MAY)
    again = keep_heard(logbook, replace(recording(1), path="/elsewhere.ogg"), HEARD, MAY)
    assert again == first == find_recording(logbook, first.sha256)
    assert logbook.execute("SELECT count(*) FROM recordings").fetchone()[0] == 1
    assert transcript_of(logbook, first.uuid) == HEARD
    words = list(logbook.query("SELECT word, start_s, probability FROM words ORDER BY position"))
    assert [tuple(w.values()) for w in words] == [("gave", 12.5, 0.9), ("her", 12.8, 0.8)]
    keep_path(logbook, first.uuid, "/now/here.ogg")
    assert get_recording(logbook, first.uuid).path == "/now/here.ogg"
    with pytest.raises(InputError, match="no recording"):
        get_recording(logbook, "nobody")


def test_drafts_are_kept_once(logbook: Any) -> None:
    first = keep_heard(logbook, recording(1), HEARD, MAY)
    assert keep_drafts(logbook, first.uuid, [SYRUP, EGGS], MAY) == 2
    assert keep_drafts(logbook, first.uuid, [SYRUP], MAY) == 2
    assert [d.entry for d in waiting_drafts(logbook)] == [SYRUP, EGGS]
    assert get_recording(logbook, first.uuid).stage == "drafted"


def test_unheard_stretches_wait_until_somebody_looked(logbook: Any) -> None:
    first = keep_heard(logbook, recording(1), HEARD, MAY)
    assert unheard(logbook) == {first.uuid: HEARD.unheard}
    looked_at_unheard(logbook, first.uuid, MAY)
    assert unheard(logbook) == {}


def test_only_what_is_confirmed_is_in_the_log(logbook: Any) -> None:
    syrup, eggs = drafted(logbook, [SYRUP, EGGS])
    assert log_rows(logbook) == ()
    save_step(logbook, decisions.confirm([syrup], MAY))
    save_step(logbook, decisions.reject([eggs], MAY))
    (row,) = log_rows(logbook)
    assert (row.uuid, row.entry, row.yard, row.recorded_at) == (syrup.uuid, SYRUP, "home", MAY)
    assert row.recorded_at.utcoffset() == MAY.utcoffset()
    assert waiting_drafts(logbook) == ()


def test_a_confirmed_row_can_still_be_edited_and_taken_back(logbook: Any) -> None:
    (syrup,) = drafted(logbook, [SYRUP])
    save_step(logbook, decisions.confirm([syrup], MAY))
    now = get_drafts(logbook, [syrup.uuid])[syrup.uuid]
    save_step(logbook, decisions.edit(now, replace(SYRUP, item="sugar"), MAY))
    assert log_rows(logbook)[0].entry.item == "sugar"
    for expected in ("syrup", None):  # undo the edit, then the confirming
        step = decisions.next_to_undo(steps(logbook))
        assert step is not None
        save_step(logbook, decisions.undo(step, get_drafts(logbook, [syrup.uuid]), MAY))
        assert [row.entry.item for row in log_rows(logbook)] == ([expected] if expected else [])
    assert [s.decision for s in steps(logbook)] == ["undo", "undo", "edit", "confirm"]
    assert waiting_drafts(logbook)[0].entry == SYRUP


def test_two_who_decide_do_not_overwrite_each_other(logbook: Any) -> None:
    (seen,) = drafted(logbook, [SYRUP])
    save_step(logbook, decisions.edit(seen, replace(SYRUP, item="sugar"), MAY))
    with pytest.raises(StaleError, match="changed elsewhere"):
        save_step(logbook, decisions.confirm([seen], MAY))
    assert log_rows(logbook) == ()
    assert waiting_drafts(logbook)[0].entry.item == "sugar"
    assert len(list(steps(logbook))) == 1


def test_a_step_is_kept_whole_or_not_at_all(logbook: Any) -> None:
    syrup, eggs = drafted(logbook, [SYRUP, replace(EGGS, hive="99")])
    with pytest.raises(InputError, match="Hive 99 is not in the register"):
        save_step(logbook, decisions.confirm([syrup, eggs], MAY))
    assert log_rows(logbook) == ()
    assert list(steps(logbook)) == []
    assert {d.version for d in waiting_drafts(logbook)} == {1}


def test_split_rows_know_where_they_come_from(logbook: Any) -> None:
    (syrup,) = drafted(logbook, [SYRUP])
    parts = [replace(SYRUP, hive=hive) for hive in ("7", "8")]
    step = decisions.split(syrup, parts, MAY)
    save_step(logbook, step)
    waiting = waiting_drafts(logbook)
    assert [d.entry for d in waiting] == parts
    assert {d.parent for d in waiting} == {syrup.uuid}
    uuids = [change.after.uuid for change in step.changes]
    save_step(logbook, decisions.undo(step, get_drafts(logbook, uuids), MAY))
    assert [d.entry for d in waiting_drafts(logbook)] == [SYRUP]


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE history SET at = '2000-01-01T00:00:00Z'",
        "DELETE FROM history",
        "INSERT OR REPLACE INTO history SELECT * FROM history",
    ],
)
def test_the_history_is_never_changed(logbook: Any, sql: str) -> None:
    (syrup,) = drafted(logbook, [SYRUP])
    save_step(logbook, decisions.confirm([syrup], MAY))
    before = list(logbook.query("SELECT * FROM history"))
    logbook.execute("PRAGMA recursive_triggers = ON")
    with pytest.raises(sqlite3.IntegrityError, match="history is never"):
        logbook.execute(sql)
    assert list(logbook.query("SELECT * FROM history")) == before


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE drafts SET kind = 'weather report'",
        "UPDATE drafts SET status = 'maybe'",
        "UPDATE drafts SET when_from = '2026-02-30'",
        "UPDATE drafts SET when_to = 'soon'",
        "UPDATE drafts SET details = '[]'",
        "UPDATE drafts SET confidence = 1.5",
        "UPDATE drafts SET version = 'two'",
        "UPDATE draft_values SET hi = -1",
        "UPDATE recordings SET recorded_at = 'yesterday'",
        "UPDATE recordings SET yard_id = 99",
        "INSERT INTO hives (uuid, yard_id, label, position, added_at)"
        " VALUES ('x', 1, '7', 1, '2026-05-03T07:30:00Z')",
    ],
)
def test_the_tables_refuse_what_no_row_may_hold(logbook: Any, sql: str) -> None:
    drafted(logbook, [SYRUP])
    with pytest.raises(sqlite3.IntegrityError):
        logbook.execute(sql)


def test_windows_are_kept_at_once(logbook: Any, tmp_path: Path) -> None:
    windows = Windows(logbook)
    assert windows.get("a") is None
    windows.put("a", {"words": [["bien\u00eatre", 1.5]]})
    with open_logbook(tmp_path / "log.db") as other:
        assert Windows(other).get("a") == {"words": [["bien\u00eatre", 1.5]]}
    windows.put("a", [])
    assert windows.get("a") == []
