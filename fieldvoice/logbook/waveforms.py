"""The waveforms that review shows: kept, so that they are there when a recording is not."""

from __future__ import annotations

from fieldvoice.logbook.opening import Logbook, writing


def waveform_of(logbook: Logbook, recording: str) -> bytes | None:
    """Loudness of the recording, one byte a column; None if it was not looked at yet."""
    row = logbook.execute(
        "SELECT columns FROM waveforms"
        " WHERE recording_id = (SELECT id FROM recordings WHERE uuid = ?)",
        [recording],
    ).fetchone()
    return bytes(row[0]) if row else None


def keep_waveform(logbook: Logbook, recording: str, columns: bytes) -> None:
    """Keep the loudness of a recording."""
    with writing(logbook):
        logbook.execute(
            "INSERT OR REPLACE INTO waveforms (recording_id, columns)"
            " SELECT id, ? FROM recordings WHERE uuid = ?",
            [columns, recording],
        )
