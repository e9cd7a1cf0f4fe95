"""The sound of a recording is deleted; its words and rows stay."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from fieldvoice.errors import InputError, RecordingError
from fieldvoice.logbook.moments import local_moment, utc_text
from fieldvoice.logbook.opening import Logbook, writing


@dataclass(frozen=True, slots=True)
class Sound:
    """A file that holds the sound of a recording, or a part of it."""

    path: Path
    sha256: str


def find_named(logbook: Logbook, name: str) -> str:
    """The uuid of the recording with that uuid, path, or file name.

    Raises:
        InputError: there is none, or several have that file name.
    """
    rows = logbook.execute(
        "SELECT uuid, path FROM recordings"
        " UNION SELECT recording, path FROM inbox WHERE recording IS NOT NULL"
    ).fetchall()
    whole = str(Path(name).expanduser().resolve())
    found = {uuid for uuid, path in rows if name == uuid or path == whole}
    found = found or {uuid for uuid, path in rows if Path(path).name == Path(name).name}
    if not found:
        raise InputError(
            f"There is no recording {name} in this logbook; name its file, as it was added."
        )
    if len(found) > 1:
        raise InputError(f"{len(found)} recordings are named {name}; give the whole path.")
    return str(found.pop())


def undecided(logbook: Logbook, recording: str) -> int:
    """What still needs the sound: drafts that wait, and speech without words to listen to."""
    (drafts,) = logbook.execute(
        "SELECT count(*) FROM drafts WHERE state = 'waiting'"
        " AND recording_id = (SELECT id FROM recordings WHERE uuid = ?)",
        [recording],
    ).fetchone()
    (stretches,) = logbook.execute(
        "SELECT count(*) FROM unheard WHERE looked_at IS NULL"
        " AND recording_id = (SELECT id FROM recordings WHERE uuid = ?)",
        [recording],
    ).fetchone()
    return int(drafts) + int(stretches)


def sound_files(logbook: Logbook, recording: str) -> tuple[Sound, ...]:
    """Every file that is known to hold the recording's sound: itself, its chapters, its copies."""
    rows = logbook.execute(
        "SELECT path, sha256 FROM recordings WHERE uuid = ?"
        " UNION SELECT path, sha256 FROM inbox WHERE recording = ? ORDER BY path",
        [recording, recording],
    ).fetchall()
    return tuple(Sound(Path(path), sha256) for path, sha256 in rows)


def forget_sound(logbook: Logbook, recording: str, at: datetime) -> None:
    """Drop what the logbook holds of the sound, so that it cannot be read from the file either.

    Its waveform goes, and the windows that were heard up to the time it was added.
    """
    logbook.execute("PRAGMA secure_delete = ON")
    with writing(logbook):
        row_id, added = logbook.execute(
            "SELECT id, added_at FROM recordings WHERE uuid = ?", [recording]
        ).fetchone()
        logbook.execute("DELETE FROM waveforms WHERE recording_id = ?", [row_id])
        logbook.execute("DELETE FROM windows WHERE heard_at <= ?", [added])
        logbook.execute("INSERT OR REPLACE INTO forgotten VALUES (?, ?)", [row_id, utc_text(at)])


def forgotten_on(logbook: Logbook, recording: str) -> date | None:
    """The day on which the recording's sound was deleted; None: it was not."""
    row = logbook.execute(
        "SELECT forgotten.at, utc_offset_min FROM forgotten"
        " JOIN recordings ON recordings.id = recording_id WHERE uuid = ?",
        [recording],
    ).fetchone()
    return local_moment(*row).date() if row else None


def why_silent(logbook: Logbook, recording: str, error: RecordingError) -> str:
    """Why a recording cannot be played: its sound was deleted, or what the decoder says."""
    day = forgotten_on(logbook, recording)
    if day is None:
        return str(error)
    return f"Its sound was deleted on {day} with `fieldvoice forget`; the words and rows stay."
