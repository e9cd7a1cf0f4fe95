"""Which files of a watched folder were taken in, so that a restart takes none twice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook, writing


@dataclass(frozen=True, slots=True)
class TakenIn:
    """One file, and what became of it."""

    sha256: str
    path: str
    size: int
    mtime_ns: int
    recording: str | None  # uuid of the recording it went into; None: it holds no sound
    problem: str = ""


def is_taken(logbook: Logbook, path: str, size: int, mtime_ns: int) -> bool:
    """Whether that file, unchanged, was looked at before; its bytes need not be read again."""
    row = logbook.execute(
        "SELECT 1 FROM inbox WHERE path = ? AND size = ? AND mtime_ns = ?", [path, size, mtime_ns]
    ).fetchone()
    return row is not None


def taken_before(logbook: Logbook, sha256: str) -> TakenIn | None:
    """What became of a file with these bytes, under whatever name; None: it is new."""
    row = logbook.execute(
        "SELECT sha256, path, size, mtime_ns, recording, problem FROM inbox WHERE sha256 = ?",
        [sha256],
    ).fetchone()
    return TakenIn(*row) if row else None


def take_in(logbook: Logbook, file: TakenIn, at: datetime) -> None:
    """Keep what became of a file; the newest name of the same bytes counts."""
    with writing(logbook):
        logbook.execute(
            "INSERT OR REPLACE INTO inbox (sha256, path, size, mtime_ns, recording, problem, at)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            [file.sha256, file.path, file.size, file.mtime_ns, file.recording, file.problem,
             utc_text(at)],
        )  # fmt: skip
