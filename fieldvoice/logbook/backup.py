"""Copies of the logbook that are known to open, and going back to one."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from datetime import datetime
from pathlib import Path

from fieldvoice.errors import InputError, LogbookError
from fieldvoice.logbook.opening import Logbook, open_logbook, saying_what_is_wrong


def backup(logbook: Logbook, to: Path) -> int:
    """Write a whole copy to a new file and look into it; returns its rows of the log.

    Raises:
        InputError: there is a file already, or it cannot be written.
        LogbookError: the copy does not hold what the logbook holds.
    """
    if to.exists():
        raise InputError(f"{to} is there already; name a new file.")
    if not to.parent.is_dir():
        raise InputError(f"There is no folder {to.parent}; make it or name another.")
    with saying_what_is_wrong(to):
        try:
            logbook.conn.execute("VACUUM INTO ?", [str(to)])
            copied = check(to)
        except BaseException:
            to.unlink(missing_ok=True)
            raise
    there = int(logbook.execute("SELECT count(*) FROM entries").fetchone()[0])
    if copied < there:  # rows may have been added while it was written, never lost
        raise LogbookError(f"The copy {to} has {copied} rows of {there}; do not rely on it.")
    return copied


def check(path: Path) -> int:
    """Open a copy without changing it; the number of its rows of the log.

    Raises:
        LogbookError: it is no logbook, or damaged.
    """
    if not path.is_file():
        raise LogbookError(f"There is no file {path}; name the backup.")
    with (
        saying_what_is_wrong(path),
        contextlib.closing(
            sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        ) as copy,
    ):
        found = copy.execute("PRAGMA integrity_check").fetchone()[0]
        if found != "ok":
            raise LogbookError(f"{path} is damaged ({found}); take another backup.")
        if copy.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise LogbookError(f"{path} is damaged (rows are missing); take another backup.")
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
    aside = None
    if logbook.exists():
        aside = logbook.with_name(f"{logbook.stem}-before-{at:%Y%m%d-%H%M%S}{logbook.suffix}")
        with open_logbook(logbook, busy_seconds=2) as present:
            backup(present, aside)
    fresh = logbook.with_name(f".{logbook.name}.restored")
    try:
        logbook.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(backup_file, fresh)
        for left in ("-wal", "-shm"):
            logbook.with_name(logbook.name + left).unlink(missing_ok=True)
        fresh.replace(logbook)
    except OSError as error:
        fresh.unlink(missing_ok=True)
        raise LogbookError(
            f"{logbook} cannot be written ({error.strerror or error}); the logbook is as it was."
        ) from error
    with open_logbook(logbook):  # brings an old backup to this program's schema
        pass
    return aside
