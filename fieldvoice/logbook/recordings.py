"""Recordings by the hash of their bytes, what was heard in them, and how far they came."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import PurePath
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.logbook.moments import local_moment, offset_minutes, utc_text
from fieldvoice.logbook.opening import Logbook, writing
from fieldvoice.logbook.register_changes import add_yard
from fieldvoice.types import RecordedAt, Recording, Stretch, Transcript
from fieldvoice.wire import transcript_from_json, transcript_to_json

_SELECT = (
    "SELECT recordings.uuid, sha256, path, recorded_at, utc_offset_min, time_source,"
    " yards.name AS yard, duration_s, stage"
    " FROM recordings JOIN yards ON yards.id = yard_id"
)


def find_recording(logbook: Logbook, sha256: str) -> Recording | None:
    """The recording with that hash, or None."""
    return _first(logbook, f"{_SELECT} WHERE sha256 = ?", sha256)


def get_recording(logbook: Logbook, recording: str) -> Recording:
    """The recording with that uuid.

    Raises:
        InputError: there is none.
    """
    found = _first(logbook, f"{_SELECT} WHERE recordings.uuid = ?", recording)
    if found is None:
        raise InputError(f"There is no recording {recording} in this logbook.")
    return found


def recordings(logbook: Logbook) -> tuple[Recording, ...]:
    """All recordings, the oldest first."""
    rows = logbook.query(f"{_SELECT} ORDER BY recorded_at, recordings.id")
    return tuple(_recording(row) for row in rows)


def growing_hash(session: str) -> str:
    """What stands for the hash of a recording that is still being made in a session.

    By the beginning of the session's name, which is all that a folder tells of it.
    """
    return hashlib.sha256(f"session {session[:8]}".encode()).hexdigest()


def still_growing(sha256: str, path: str) -> bool:
    """Whether a recording with that hash and file is being made, or was cut off and left so.

    Its file, once it is there, is named after its session.
    """
    return sha256 == growing_hash(PurePath(path).stem[-8:])


def keep_heard(
    logbook: Logbook,
    recording: Recording,
    transcript: Transcript,
    at: datetime,
    session: str | None = None,
) -> Recording:
    """Put a recording and what was heard in it into the logbook, in one transaction.

    When another process has put it there in the meantime, that one stays and is
    returned. `session`: the one it was, or is being made in; what was kept of it while it
    was made is replaced, and it keeps its uuid.
    """
    growing = growing_hash(session) if session else ""
    with writing(logbook):
        known = find_recording(logbook, recording.sha256)
        if known and known.sha256 != growing:
            return known
        before = find_recording(logbook, growing)
        recording = replace(recording, uuid=before.uuid) if before else recording
        columns = _columns(logbook, recording, transcript, at)
        if before:
            row_id = logbook.execute(
                "SELECT id FROM recordings WHERE uuid = ?", [before.uuid]
            ).fetchone()[0]
            logbook["recordings"].update(row_id, columns)
            for table in ("words", "unheard"):
                logbook.execute(f"DELETE FROM {table} WHERE recording_id = ?", [row_id])
        else:
            row_id = logbook["recordings"].insert(columns).last_pk
        _keep_words(logbook, row_id, transcript)
    return recording


def _columns(
    logbook: Logbook, recording: Recording, transcript: Transcript, at: datetime
) -> dict[str, Any]:
    recorded = recording.recorded.at
    return {
        "uuid": recording.uuid,
        "sha256": recording.sha256,
        "path": recording.path,
        "yard_id": add_yard(logbook, recording.yard, at),
        "recorded_at": utc_text(recorded),
        "utc_offset_min": offset_minutes(recorded),
        "day": recorded.date().isoformat(),
        "time_source": recording.recorded.source,
        "duration_s": transcript.duration,
        "engine": transcript.engine,
        "model": transcript.model,
        "transcript": json.dumps(transcript_to_json(transcript), ensure_ascii=False),
        "stage": "heard",
        "added_at": utc_text(at),
    }


def _keep_words(logbook: Logbook, row_id: int, transcript: Transcript) -> None:
    logbook.conn.executemany(
        "INSERT INTO words VALUES (?, ?, ?, ?, ?, ?, ?)",
        (
            (row_id, position, number, w.word, w.start, w.end, w.probability)
            for position, (number, w) in enumerate(
                (number, word)
                for number, segment in enumerate(transcript.segments)
                for word in segment.words
            )
        ),
    )
    logbook.conn.executemany(
        "INSERT INTO unheard (recording_id, position, start_s, end_s) VALUES (?, ?, ?, ?)",
        ((row_id, n, s.start, s.end) for n, s in enumerate(transcript.unheard)),
    )


def keep_path(logbook: Logbook, recording: str, path: str) -> None:
    """Note where a recording lies now, so that it can be played in review."""
    with writing(logbook):
        logbook.execute("UPDATE recordings SET path = ? WHERE uuid = ?", [path, recording])


def transcript_of(logbook: Logbook, recording: str) -> Transcript:
    """What was heard in the recording of that uuid.

    Raises:
        InputError: there is none.
    """
    row = logbook.execute(
        "SELECT transcript FROM recordings WHERE uuid = ?", [recording]
    ).fetchone()
    if row is None:
        raise InputError(f"There is no recording {recording} in this logbook.")
    return transcript_from_json(json.loads(row[0]))


def unheard_of(logbook: Logbook, recording: str) -> tuple[Stretch, ...]:
    """Stretches of speech without words that nobody has looked at yet."""
    rows = logbook.query(
        "SELECT start_s, end_s FROM unheard WHERE looked_at IS NULL"
        " AND recording_id = (SELECT id FROM recordings WHERE uuid = ?) ORDER BY position",
        [recording],
    )
    return tuple(Stretch(row["start_s"], row["end_s"]) for row in rows)


def unheard(logbook: Logbook) -> dict[str, tuple[Stretch, ...]]:
    """By recording, oldest first: speech without words that nobody has looked at yet."""
    rows = logbook.query(
        "SELECT DISTINCT recordings.uuid FROM unheard"
        " JOIN recordings ON recordings.id = recording_id WHERE looked_at IS NULL"
        " ORDER BY recorded_at, recordings.id"
    )
    return {row["uuid"]: unheard_of(logbook, row["uuid"]) for row in list(rows)}


def looked_at_unheard(logbook: Logbook, recording: str, at: datetime) -> None:
    """Note that the keeper has seen (or listened to) the unheard stretches."""
    with writing(logbook):
        logbook.execute(
            "UPDATE unheard SET looked_at = ? WHERE looked_at IS NULL"
            " AND recording_id = (SELECT id FROM recordings WHERE uuid = ?)",
            [utc_text(at), recording],
        )


def new_uuid() -> str:
    """A name for a row that no other logbook has."""
    return str(uuid.uuid4())


def _first(logbook: Logbook, sql: str, value: str) -> Recording | None:
    return next((_recording(row) for row in list(logbook.query(sql, [value]))), None)


def _recording(row: Mapping[str, Any]) -> Recording:
    return Recording(
        uuid=row["uuid"],
        sha256=row["sha256"],
        path=row["path"],
        recorded=RecordedAt(
            local_moment(row["recorded_at"], row["utc_offset_min"]), row["time_source"]
        ),
        yard=row["yard"],
        duration=row["duration_s"],
        stage=row["stage"],
    )
