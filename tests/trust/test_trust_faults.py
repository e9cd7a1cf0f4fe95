"""Whatever strikes: the logbook opens, every confirmed row is there once, the next command goes on.

`python -m tests.trust.faults --count 500` is the long run.
"""

from __future__ import annotations

import contextlib
import random
import sqlite3
from pathlib import Path

import pytest

from fieldvoice.errors import InputError, LogbookError
from fieldvoice.logbook import backup as copies
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register import need_hive
from tests.makers import MAY, query
from tests.trust.damage import damage_logbook
from tests.trust.faults import KINDS, strikes, table
from tests.trust.worth import all_of, doubled, faults_in, log_of, make_logbook


def test_twenty_faults(tmp_path: Path) -> None:
    found = strikes(20, seed=4, work=tmp_path)
    print(table(found))
    assert len(found) == 20
    assert sum(struck.lost for struck in found) == 0
    assert sum(struck.doubled for struck in found) == 0
    assert [struck for struck in found if struck.problems] == []
    assert {struck.kind for struck in found} == set(KINDS)


def test_what_is_lost_or_doubled_would_be_seen(tmp_path: Path) -> None:
    """The harness is no harness if it cannot fail."""
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    before = log_of(path)
    assert faults_in(path) == []
    (uuid,) = query(path, "SELECT uuid FROM entries LIMIT 1")[0]
    with open_logbook(path) as logbook:
        logbook.execute("DELETE FROM entries WHERE uuid = ?", [uuid])
        logbook.conn.commit()
    assert (before - log_of(path)).total() == 1
    assert "are in the log and not confirmed" in faults_in(path)[0]
    other = make_logbook(tmp_path / "other.db", rows=8, waiting=2)
    with open_logbook(other) as logbook:
        logbook.execute(
            "UPDATE entries SET (quote, hive, kind, action, item, start_s, end_s, details, hive_id)"
            " = (SELECT quote, hive, kind, action, item, start_s, end_s, details, hive_id"
            " FROM entries WHERE id = 1) WHERE id = 5"
        )
        logbook.execute("DELETE FROM entry_values")
        logbook.conn.commit()
    assert doubled(other) == 1


def test_a_stopped_backup_leaves_no_file_of_that_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    copy = tmp_path / "copy.db"
    with open_logbook(path) as logbook:

        def stopped(part: Path, to: Path) -> None:
            assert part.exists()
            assert not to.exists()  # had it been killed here, nothing would stand under the name
            raise KeyboardInterrupt

        monkeypatch.setattr(copies, "_keep", stopped)
        with pytest.raises(KeyboardInterrupt):
            copies.backup(logbook, copy)
        monkeypatch.undo()
        assert sorted(p.name for p in tmp_path.iterdir() if "copy" in p.name) == []
        (tmp_path / ".copy.db.part").write_bytes(b"of a backup that was killed")
        assert copies.backup(logbook, copy) == 6
        with pytest.raises(InputError, match="there already"):
            copies.backup(logbook, copy)
    assert all_of(copy) == all_of(path)


def test_a_damaged_logbook_is_put_aside_and_the_backup_comes_back(tmp_path: Path) -> None:
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    copy = tmp_path / "copy.db"
    with open_logbook(path) as logbook:
        copies.backup(logbook, copy)
    path.write_bytes(b"SQLite format 3\0" + bytes(5000))
    damaged = path.read_bytes()
    with pytest.raises(LogbookError, match="fieldvoice restore"), open_logbook(path):
        pass
    asides = [copies.restore(copy, path, MAY) for _ in range(2)]
    assert len(set(asides)) == 2
    assert asides[0] is not None
    assert asides[0].read_bytes() == damaged
    assert all_of(path) == all_of(copy)


def test_a_logbook_that_is_open_elsewhere_is_not_restored_over(tmp_path: Path) -> None:
    """Its last decisions may not be in the file itself yet."""
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    copy = tmp_path / "copy.db"
    with open_logbook(path) as logbook:
        copies.backup(logbook, copy)
        before = all_of(path)
        with pytest.raises(LogbookError, match="locked by another program"):
            copies.restore(copy, path, MAY)
    assert all_of(path) == before
    assert copies.restore(copy, path, MAY) is not None


def test_a_backup_with_damage_in_a_column_is_not_restored(tmp_path: Path) -> None:
    """SQLite looks at columns only where it may write: a copy that was bent is refused."""
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    copy = tmp_path / "copy.db"
    with open_logbook(path) as logbook:
        copies.backup(logbook, copy)
    raw = bytearray(copy.read_bytes())
    at = raw.index(b'{"text": "')
    raw[at : at + 1] = b"["
    copy.write_bytes(raw)
    before = all_of(path)
    with pytest.raises(LogbookError, match="damaged; take another backup"):
        copies.restore(copy, path, MAY)
    assert all_of(path) == before
    assert not list(tmp_path.glob("*.restored*"))


def put_over(path: Path, name: str, by: str) -> bytes:
    """The first page of one table or index over that of another; the file as it is then."""
    with contextlib.closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA journal_mode = DELETE")
        size = database.execute("PRAGMA page_size").fetchone()[0]
        pages = dict(database.execute("SELECT name, rootpage FROM sqlite_schema").fetchall())
    raw = bytearray(path.read_bytes())
    here, there = (slice((pages[n] - 1) * size, pages[n] * size) for n in (name, by))
    raw[here] = raw[there]
    path.write_bytes(raw)
    return bytes(raw)


def test_rows_that_nobody_wrote_are_damage_and_no_fault_of_the_program(tmp_path: Path) -> None:
    """What only reads does not look at the whole file, until it trips over something."""
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    put_over(path, "hives", by="drafts")
    told = pytest.raises(LogbookError, match=r"is damaged .*fieldvoice restore BACKUP")
    with told, open_logbook(path) as logbook:
        need_hive(logbook, "7")
    # The same error over a logbook that is whole is the program's own.
    whole = make_logbook(tmp_path / "whole.db", rows=8, waiting=2)
    with pytest.raises(AttributeError, match="split"), open_logbook(whole) as logbook:
        need_hive(logbook, None)  # type: ignore[arg-type]


def test_a_damaged_logbook_is_not_backed_up_and_its_bytes_are_put_aside(tmp_path: Path) -> None:
    """Of some damage SQLite writes a copy that looks whole, and it may not be."""
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    copy, later = tmp_path / "copy.db", tmp_path / "later.db"
    with open_logbook(path) as logbook:
        copies.backup(logbook, copy)
    raw = put_over(path, "due_decisions_key", by="aliases")
    told = pytest.raises(LogbookError, match=r"log.db is damaged .*fieldvoice restore BACKUP")
    with told, open_logbook(path) as logbook:
        copies.backup(logbook, later)
    assert not [p.name for p in tmp_path.iterdir() if "later" in p.name]
    aside = copies.restore(copy, path, MAY)
    assert aside is not None
    assert aside.read_bytes()[100:] == raw[100:]
    assert faults_in(path) == []


def test_nothing_is_written_to_a_damaged_logbook(tmp_path: Path) -> None:
    refused = 0
    for seed in range(12):
        path = make_logbook(tmp_path / f"{seed}.db", rows=8, waiting=2)
        where = damage_logbook(path, random.Random(seed))
        raw = path.read_bytes()
        try:
            with open_logbook(path, write=True):
                pass
        except LogbookError as error:
            refused += 1
            assert "fieldvoice restore" in str(error), where
            assert path.read_bytes()[100:] == raw[100:], where
    assert refused >= 8


def test_damage_that_a_writer_would_not_meet_is_looked_for(tmp_path: Path) -> None:
    path = make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    raw = put_over(path, "due_decisions_key", by="aliases")
    with open_logbook(path) as logbook:  # what only reads does not meet it
        assert need_hive(logbook, "7").label == "7"
    told = pytest.raises(LogbookError, match=r"is damaged .*fieldvoice restore BACKUP")
    with told, open_logbook(path, write=True):
        pass
    assert path.read_bytes()[100:] == raw[100:]
