"""Killed at any statement, out of room at any size, two at once: nothing lost, nothing doubled.

Each fault strikes a child of this process, so that what it leaves behind is what a
killed command leaves behind.
"""

from __future__ import annotations

import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import traceback
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from makers import EGGS, MAY, SYRUP, drafted, query
from stand_ins import Rooms, tone

from fieldvoice.errors import LogbookError
from fieldvoice.logbook import opening
from fieldvoice.logbook.drafts import save_step, waiting_drafts
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.pipeline import add_recordings
from fieldvoice.review import decisions

KILLED = -signal.SIGKILL
NO_ROOM = 7


def in_a_child(act: Callable[[], None]) -> int:
    """Run `act` in a fork; its exit code, minus the signal that ended it."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            act()
            code = 0
        except LogbookError as error:
            code = NO_ROOM if "no room" in str(error) or "full" in str(error) else 1
        except BaseException:  # noqa: BLE001  # the child must not go on as a test
            traceback.print_exc()
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def killed_at(statement: int, act: Callable[[], None]) -> int:
    """Run `act` in a child that is killed when SQLite begins its n-th statement."""

    def run() -> None:
        begun = 0

        def count(sql: str) -> None:
            nonlocal begun
            begun += 1
            if begun == statement:
                os.kill(os.getpid(), signal.SIGKILL)

        connected = opening._connected

        def traced(where: str, busy_seconds: float) -> sqlite3.Connection:
            connection = connected(where, busy_seconds)
            connection.set_trace_callback(count)
            return connection

        opening._connected = traced
        act()

    return in_a_child(run)


def check_whole(path: Path) -> None:
    if not path.exists() or path.stat().st_size == 0:
        return
    with sqlite3.connect(path) as database:
        assert database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
    database.close()


def check_added(path: Path) -> None:
    """One recording, its two drafts, and not one more."""
    check_whole(path)
    assert query(path, "SELECT stage FROM recordings") == [("drafted",)]
    assert query(path, "SELECT quote FROM drafts ORDER BY id") == [
        (SYRUP.quote,), (EGGS.quote,),
    ]  # fmt: skip


def test_killed_at_every_statement_of_add(tmp_path: Path) -> None:
    sound = tone(tmp_path / "a.ogg")
    faults = 0
    while True:
        folder = tmp_path / str(faults)
        folder.mkdir()
        path = folder / "log.db"

        def add(path: Path = path) -> None:
            add_recordings(path, [sound], Rooms().options())

        code = killed_at(faults + 1, add)
        if code == 0:
            break
        assert code == KILLED
        faults += 1
        check_whole(path)
        rooms = Rooms()
        heard_before = False
        if path.exists() and path.stat().st_size:
            with sqlite3.connect(path) as database:
                tables = database.execute(
                    "SELECT count(*) FROM sqlite_schema WHERE name = 'recordings'"
                ).fetchone()[0]
            database.close()
            heard_before = bool(tables) and bool(query(path, "SELECT 1 FROM recordings"))
        (added,) = add_recordings(path, [sound], rooms.options())
        assert added.outcome in ("added", "finished", "known")
        assert bool(rooms.heard) is not heard_before
        check_added(path)
        shutil.rmtree(folder)
    print(f"{faults} kills")
    assert faults > 60


def decide(path: Path) -> None:
    with open_logbook(path) as logbook:
        save_step(logbook, decisions.confirm(waiting_drafts(logbook), MAY))


def test_killed_at_every_statement_of_a_decision(tmp_path: Path) -> None:
    first = tmp_path / "first.db"
    with open_logbook(first, create=True) as logbook:
        for label in ("7", "8"):
            add_hive(logbook, label, "home", MAY)
        drafted(logbook, [SYRUP, EGGS])
    faults = kept = 0
    while True:
        path = tmp_path / f"{faults}.db"
        shutil.copy(first, path)
        code = killed_at(faults + 1, lambda path=path: decide(path))
        check_whole(path)
        states = query(path, "SELECT DISTINCT state FROM drafts")
        rows = query(path, "SELECT count(*) FROM entries")[0][0]
        told = query(path, "SELECT count(*) FROM history")[0][0]
        assert (states, rows, told) in [([("waiting",)], 0, 0), ([("confirmed",)], 2, 2)]
        kept += rows == 2
        if code == 0:
            break
        assert code == KILLED
        faults += 1
    print(f"{faults} kills")
    assert faults > 20
    assert kept >= 1


def rows_of(path: Path) -> list[Any]:
    """All that was confirmed, and the decisions."""
    return [query(path, f"SELECT * FROM {table}") for table in ("entries", "history")]


@pytest.fixture
def confirmed(tmp_path: Path) -> Path:
    """A logbook with two confirmed rows."""
    path = tmp_path / "confirmed.db"
    with open_logbook(path, create=True) as logbook:
        for label in ("7", "8"):
            add_hive(logbook, label, "home", MAY)
        save_step(logbook, decisions.confirm(drafted(logbook, [SYRUP, EGGS]), MAY))
    return path


def test_no_room_at_any_size(tmp_path: Path, confirmed: Path) -> None:
    """No file may grow beyond a limit, from one page on: writing fails as on a full disk."""
    sound = tone(tmp_path / "a.ogg")
    before = rows_of(confirmed)
    outcomes = []
    for kilobytes in (1, 4, 8, 16, 24, 32, 40, 48, 64, 96, 128, 192, 4096):
        path = tmp_path / f"{kilobytes}.db"
        shutil.copy(confirmed, path)

        def add(path: Path = path, size: int = kilobytes * 1024) -> None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
            add_recordings(path, [sound], Rooms(rows=(SYRUP,) * 60).options())

        outcomes.append(in_a_child(add))
        check_whole(path)
        assert rows_of(path) == before
        (added,) = add_recordings(path, [sound], Rooms(rows=(SYRUP,) * 60).options())
        assert added.drafts == 60
        assert query(path, "SELECT count(*) FROM recordings") == [(2,)]
        assert rows_of(path) == before
    assert set(outcomes) == {NO_ROOM, 0}
    assert outcomes[0] == NO_ROOM
    assert outcomes[-1] == 0


IN_A_SMALL_DISK = """
import shutil, sys
from pathlib import Path
sys.path[:0] = sys.argv[3:]
from fieldvoice.errors import LogbookError
from fieldvoice.pipeline import add_recordings
from makers import SYRUP, query
from stand_ins import Rooms
disk, sound = Path(sys.argv[1]), Path(sys.argv[2])
rows = (SYRUP,) * 4000
before = query(disk / "log.db", "SELECT * FROM entries")
try:
    add_recordings(disk / "log.db", [sound], Rooms(rows=rows).options())
    print("it fitted")
except LogbookError as error:
    print(error)
(disk / "ballast").unlink()
assert query(disk / "log.db", "PRAGMA integrity_check") == [("ok",)]
assert query(disk / "log.db", "SELECT * FROM entries") == before
(added,) = add_recordings(disk / "log.db", [sound], Rooms(rows=rows).options())
print(added.outcome, added.drafts)
"""


def test_a_disk_that_is_really_full(tmp_path: Path, confirmed: Path) -> None:
    """A disk of 12 MB in a namespace of its own, filled up by another file."""
    sound = tone(tmp_path / "a.ogg")
    disk = tmp_path / "disk"
    disk.mkdir()
    here = Path(__file__).parent
    inside = (
        f"mount -t tmpfs -o size=12m tmpfs {disk} && cp {confirmed} {disk}/log.db && "
        f"head -c 11M /dev/zero > {disk}/ballast && exec {sys.executable} - "
        f"{disk} {sound} {here} {here.parent}"
    )
    done = subprocess.run(
        ["unshare", "--mount", "--map-root-user", "sh", "-c", inside],
        input=IN_A_SMALL_DISK, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    refused, went_on = done.stdout.splitlines()
    assert "no room left" in refused or "failed or is full" in refused
    assert "run the same command again" in refused
    assert went_on.split()[1] == "4000"


def test_two_adds_at_once_hear_each_recording_once(tmp_path: Path) -> None:
    """Six processes, four recordings, all at once, each list in another order."""
    sounds = [tone(tmp_path / f"{n}.ogg", 300 + 100 * n) for n in range(4)]
    path = tmp_path / "log.db"
    heard = tmp_path / "heard.txt"

    def add(turn: int) -> None:
        rooms = Rooms()
        add_recordings(path, sounds[turn % 4 :] + sounds[: turn % 4], rooms.options())
        with heard.open("a") as file:
            file.write("".join(f"{name}\n" for name in rooms.heard))

    children = []
    for turn in range(6):
        child = os.fork()
        if child == 0:
            os._exit(in_a_child(partial(add, turn)))
        children.append(child)
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
    assert codes == [0] * 6
    check_whole(path)
    assert query(path, "SELECT count(*), count(DISTINCT sha256) FROM recordings") == [(4, 4)]
    assert query(path, "SELECT count(*) FROM drafts") == [(8,)]
    assert sorted(heard.read_text().split()) == [sound.name for sound in sounds]


def test_review_and_add_at_once(tmp_path: Path, confirmed: Path) -> None:
    """One process adds while another decides, again and again: both get through."""
    sounds = [tone(tmp_path / f"{n}.ogg", 300 + 50 * n) for n in range(6)]

    def add() -> None:
        for sound in sounds:
            add_recordings(confirmed, [sound], Rooms().options())

    child = os.fork()
    if child == 0:
        os._exit(in_a_child(add))
    decided = 0
    ended = False
    while not ended or decided < 12:
        ended = ended or os.waitpid(child, os.WNOHANG)[0] == child
        with open_logbook(confirmed) as logbook:
            waiting = waiting_drafts(logbook)
            for draft in waiting:
                save_step(logbook, decisions.confirm([draft], MAY))
            decided += len(waiting)
        if ended and not waiting:
            break
    assert decided == 12
    assert query(confirmed, "SELECT count(*) FROM entries") == [(14,)]
    check_whole(confirmed)
