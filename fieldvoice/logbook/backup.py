"""Copies of the logbook that are known to open, and going back to one."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from datetime import datetime
from pathlib import Path

from fieldvoice.errors import InputError, LogbookError
from fieldvoice.logbook.opening import (
    Logbook,
    check_whole,
    damaged,
    file_of,
    open_logbook,
    saying_what_is_wrong,
)

_BESIDE = ("-wal", "-shm")
_NOT_DAMAGE = (  # damage may also look like a full disk: then its bytes are copied, if they can be
    sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN,
    sqlite3.SQLITE_PERM,
)  # fmt: skip


def backup(logbook: Logbook, to: Path) -> int:
    """Write a whole copy to a new file and look into it; returns its rows of the log.

    Raises:
        InputError: there is a file already, or it cannot be written.
        LogbookError: the logbook is damaged, or the copy does not hold what it holds.
    """
    if to.exists():
        raise InputError(f"{to} is there already; name a new file.")
    if not to.parent.is_dir():
        raise InputError(f"There is no folder {to.parent}; make it or name another.")
    source = file_of(logbook)
    with saying_what_is_wrong(source):
        check_whole(logbook, source)  # a copy of damage may well look whole
        before = _rows(logbook)
    part = to.with_name(f".{to.name}.part")
    with saying_what_is_wrong(to):
        try:
            _remove(part)  # of a copy that was stopped
            _copy(logbook, source, part)
            copied = check(part)
            _keep(part, to)  # what stands under that name is whole, whenever this is stopped
        except BaseException:
            _remove(part)
            raise
    there = min(before, _rows(logbook))
    if copied < there:  # others may have confirmed or undone rows while it was written
        raise LogbookError(f"The copy {to} has {copied} rows of {there}; do not rely on it.")
    return copied


def check(path: Path, *, ours: bool = False) -> int:
    """Look into a copy without changing it; the number of its rows of the log.

    SQLite looks at what stands in the columns only of a file that may be written, so a
    copy that is `ours` is looked at more closely.

    Raises:
        LogbookError: it is no logbook, or damaged.
    """
    if not path.is_file():
        raise LogbookError(f"There is no file {path}; name the backup.")
    mode = "rw" if ours else "ro&immutable=1"
    with (
        saying_what_is_wrong(path),
        contextlib.closing(
            sqlite3.connect(f"{path.resolve().as_uri()}?mode={mode}", uri=True)
        ) as copy,
    ):
        if why := _fault_in(copy):
            raise LogbookError(f"{path} is damaged ({why}); take another backup.")
        names = {name for (name,) in copy.execute("SELECT name FROM sqlite_schema").fetchall()}
        if "entries" not in names:
            raise LogbookError(f"{path} is no logbook; name a backup of one.")
        return int(copy.execute("SELECT count(*) FROM entries").fetchone()[0])


def restore(backup_file: Path, logbook: Path, at: datetime) -> Path | None:
    """Put a backup in the logbook's place; returns where the present one was put aside.

    Nothing is deleted. Close other programs that have the logbook open first.

    Raises:
        LogbookError: the backup does not open, or the logbook is in use.
    """
    check(backup_file)
    aside = _put_aside(logbook, at) if logbook.exists() else None
    fresh = logbook.with_name(f".{logbook.name}.restored")
    try:
        logbook.parent.mkdir(parents=True, exist_ok=True)
        _remove(fresh)
        shutil.copyfile(backup_file, fresh)
        check(fresh, ours=True)
        for left in _BESIDE:
            logbook.with_name(logbook.name + left).unlink(missing_ok=True)
        _keep(fresh, logbook)
    except LogbookError as error:
        _remove(fresh)
        raise LogbookError(f"{backup_file} is damaged; take another backup.") from error
    except OSError as error:
        _remove(fresh)
        raise LogbookError(
            f"{logbook} cannot be written ({error.strerror or error}); the logbook is as it was."
        ) from error
    with open_logbook(logbook):  # brings an old backup to this program's schema
        pass
    return aside


def _put_aside(logbook: Path, at: datetime) -> Path:
    """A copy of the present logbook under another name: a whole one, or its bytes if damaged."""
    name = f"{logbook.stem}-before-{at:%Y%m%d-%H%M%S}"
    aside = logbook.with_name(name + logbook.suffix)
    number = 1
    while aside.exists():
        number += 1
        aside = logbook.with_name(f"{name}-{number}{logbook.suffix}")
    try:
        with open_logbook(logbook, busy_seconds=2) as present, saying_what_is_wrong(logbook):
            backup(present, aside)
            # Only one that nobody else has open can leave WAL; all is in the one file then.
            present.conn.execute("PRAGMA journal_mode = DELETE")
    except LogbookError as error:
        if getattr(error.__cause__, "sqlite_errorcode", 0) & 0xFF in _NOT_DAMAGE:
            raise
        with saying_what_is_wrong(logbook):
            for left in ("", *_BESIDE):
                present_file = logbook.with_name(logbook.name + left)
                if present_file.exists():
                    shutil.copyfile(present_file, aside.with_name(aside.name + left))
    return aside


def _rows(logbook: Logbook) -> int:
    return int(logbook.execute("SELECT count(*) FROM entries").fetchone()[0])


def _copy(logbook: Logbook, source: Path, to: Path) -> None:
    """Write all of the logbook to a new file; where that fails, see whose fault it is."""
    try:
        logbook.conn.execute("VACUUM INTO ?", [str(to)])
        with contextlib.closing(sqlite3.connect(to)) as copy:
            why = _fault_in(copy)
    except sqlite3.DatabaseError:
        # Damage shows itself in many ways, also as a disk that seems to be full.
        why = logbook.conn.execute("PRAGMA quick_check(1)").fetchone()[0]
        if why == "ok":
            raise
    if why:
        raise damaged(source, why)


def _fault_in(copy: sqlite3.Connection) -> str:
    """What is wrong with an open copy; nothing if all is well."""
    found = str(copy.execute("PRAGMA integrity_check").fetchone()[0])
    if found != "ok":
        return found
    missing = copy.execute("PRAGMA foreign_key_check").fetchone() is not None
    return "rows are missing" if missing else ""


def _remove(path: Path) -> None:
    for left in ("", *_BESIDE):
        path.with_name(path.name + left).unlink(missing_ok=True)


def _keep(part: Path, to: Path) -> None:
    """Give a finished file its name once its bytes are on the disk."""
    with part.open("rb+") as file:
        os.fsync(file.fileno())
    part.replace(to)
