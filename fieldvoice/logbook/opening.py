"""Open a logbook, bring it to this program's schema, and say in one sentence what is wrong."""

from __future__ import annotations

import contextlib
import errno
import sqlite3
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from fieldvoice.errors import LogbookError

BUSY_SECONDS = 30.0
"""How long a command waits for another one that is writing."""

_FROM_DAMAGE = (TypeError, ValueError, AttributeError, LookupError, ArithmeticError, RecursionError)
"""What the rooms raise over a row that no decision wrote."""

_MAGIC = b"SQLite format 3\x00"

Logbook = Any
"""An open `sqlite_utils.Database`; the library's own types are not complete."""


@contextlib.contextmanager
def open_logbook(
    path: Path,
    *,
    create: bool = False,
    write: bool = False,
    busy_seconds: float = BUSY_SECONDS,
) -> Iterator[Logbook]:
    """Open the logbook at `path` at the newest schema, and close it afterwards.

    With `write` (which `create` implies), a logbook that cannot be written, or is damaged
    anywhere, is refused at once; without, one on a locked stick or in a backup is opened
    for reading.
    Anything SQLite raises inside the block comes out as a LogbookError, and so does what is
    tripped over in a logbook that turns out to be damaged.

    Raises:
        LogbookError: there is none (and not `create`), it is not a logbook, it is newer
            than this program, locked, damaged, or there is no room.
    """
    _check_file(path, create=create)
    with saying_what_is_wrong(path):
        logbook = _connect(path, busy_seconds)
        try:
            _bring_up_to_date(logbook, path)
            if create or write:
                check_whole(logbook, path)
                _check_writable(logbook)
            yield logbook
        except _FROM_DAMAGE:
            check_whole(logbook, path)
            raise  # the file is well: it is a fault of the program
        finally:
            logbook.close()


def file_of(logbook: Logbook) -> Path:
    """The file that an opened logbook is in."""
    return Path(logbook.execute("PRAGMA database_list").fetchone()[2])


def check_whole(logbook: Logbook, path: Path) -> None:
    """Nothing is written to a damaged logbook; the look at it takes 1.2 s for 200,000 rows.

    Raises:
        LogbookError: it is damaged; SQLite may say so itself by an error of its own.
    """
    found = logbook.conn.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if found != "ok":
        raise damaged(path, found)


def _check_writable(logbook: Logbook) -> None:
    """Refused here, and not after an hour of hearing.

    To begin a transaction is not enough: SQLite begins one for reading instead.
    """
    logbook.conn.execute("BEGIN IMMEDIATE")
    try:
        logbook.conn.execute("PRAGMA user_version = 0")
    finally:
        logbook.conn.execute("ROLLBACK")


@contextlib.contextmanager
def writing(logbook: Logbook) -> Iterator[None]:
    """One transaction that takes the write lock at once: all of the block, or nothing.

    A transaction that begins by reading and then writes fails at once when another
    process wrote in between; one that begins by writing waits its turn.
    """
    if logbook.conn.in_transaction:
        with logbook.atomic():
            yield
        return
    logbook.conn.execute("BEGIN IMMEDIATE")
    try:
        yield
        logbook.conn.execute("COMMIT")
    except BaseException:
        if logbook.conn.in_transaction:
            logbook.conn.execute("ROLLBACK")
        raise


@contextlib.contextmanager
def saying_what_is_wrong(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system raise into one sentence for the keeper."""
    try:
        yield
    except sqlite3.Error as error:
        raise LogbookError(_sentence(path, error)) from error
    except UnicodeDecodeError as error:  # names of a schema that are no text any more
        raise damaged(path, str(error)) from error
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
            raise
        raise LogbookError(_NO_ROOM.format(path=path)) from error


def damaged(path: Path, why: str) -> LogbookError:
    """What to say of a damaged logbook."""
    return LogbookError(f"The logbook {path} is damaged ({why}); {_GO_BACK}.")


_NO_ROOM = (
    "There is no room left on the disk of the logbook {path}; nothing was lost. "
    "Free some space and run the same command again."
)

_GO_BACK = (
    "go back to your last backup with `fieldvoice restore BACKUP`, which puts this file aside "
    "and deletes nothing, or name another logbook with --logbook"
)


def _sentence(path: Path, error: sqlite3.Error) -> str:
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code == sqlite3.SQLITE_FULL:
        return _NO_ROOM.format(path=path)
    if code == sqlite3.SQLITE_IOERR:
        return (
            f"The disk of the logbook {path} failed or is full ({error}); what was confirmed "
            "before is kept. Free some space or check the disk, then run the same command again."
        )
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return (
            f"The logbook {path} is locked by another program; close it there "
            "and run the same command again."
        )
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return (
            f"The logbook {path} may not be written ({error}); allow writing to the file and "
            "its folder, or name another with --logbook."
        )
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return f"The logbook {path} is damaged or not a logbook ({error}); {_GO_BACK}."
    return f"The logbook {path} cannot be used ({error}); if that comes back, {_GO_BACK}."


def _check_file(path: Path, *, create: bool) -> None:
    """Refuse what is plainly no logbook before SQLite touches it."""
    try:
        if path.is_dir():
            raise LogbookError(f"The logbook {path} is a folder; name a file with --logbook.")
        if not path.exists():
            if not create:
                raise LogbookError(
                    f"There is no logbook at {path} yet; `fieldvoice add RECORDING` starts one."
                )
            path.parent.mkdir(parents=True, exist_ok=True)
            return
        with path.open("rb") as file:
            head = file.read(len(_MAGIC))
    except OSError as error:
        raise LogbookError(
            f"The logbook {path} cannot be opened ({error.strerror or error}); "
            "name another with --logbook."
        ) from error
    if head and head != _MAGIC:
        raise LogbookError(f"The logbook {path} is not a SQLite file; {_GO_BACK}.")


def _connect(path: Path, busy_seconds: float) -> Logbook:
    """A connection for writing; else for reading; else on a file that nobody can write."""
    from sqlite_utils import Database

    where = path.resolve().as_uri()
    try:
        connection = _connected(f"{where}?mode=rwc", busy_seconds)
    except sqlite3.OperationalError as error:
        unwritable = error.sqlite_errorcode & 0xFF in (
            sqlite3.SQLITE_READONLY,
            sqlite3.SQLITE_CANTOPEN,
        )
        if not (unwritable and path.exists() and path.stat().st_size):
            raise
        try:
            connection = _connected(f"{where}?mode=ro", busy_seconds)
        except sqlite3.OperationalError:
            connection = _connected(f"{where}?mode=ro&immutable=1", busy_seconds)
    return Database(connection, execute_plugins=False)


def _connected(where: str, busy_seconds: float) -> sqlite3.Connection:
    connection = sqlite3.connect(where, uri=True, timeout=busy_seconds, check_same_thread=False)
    try:
        connection.execute("PRAGMA foreign_keys = ON")
        _wait(lambda: _to_wal(connection), busy_seconds)
        # With WAL's default a power cut can take back the last decisions.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def _to_wal(connection: sqlite3.Connection) -> None:
    if connection.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        connection.execute("PRAGMA journal_mode = WAL")


def _wait(attempt: Callable[[], None], busy_seconds: float) -> None:
    """Changing the journal mode does not wait for a lock by itself; wait here."""
    until = time.monotonic() + busy_seconds
    while True:
        try:
            attempt()
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
            time.sleep(0.02)
        else:
            return


def _bring_up_to_date(logbook: Logbook, path: Path) -> None:
    from fieldvoice.logbook.schema import APPLICATION_ID, MIGRATIONS, STEPS

    made_by = logbook.conn.execute("PRAGMA application_id").fetchone()[0]
    tables = logbook.conn.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if made_by != APPLICATION_ID and tables:
        raise LogbookError(f"{path} is a SQLite file of another program; {_GO_BACK}.")
    known = {step.__name__ for step in STEPS}
    newer = [step.name for step in MIGRATIONS.applied(logbook) if step.name not in known]
    if newer:
        raise LogbookError(
            f"The logbook {path} was made by a newer fieldvoice (it has {newer[-1]}); "
            "update fieldvoice to use it."
        )
    if MIGRATIONS.pending(logbook):
        with writing(logbook):  # a second process finds the steps done when its turn comes
            MIGRATIONS.apply(logbook)
