"""Recordings that follow each other without a break, and what was spoken of last."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from fieldvoice.logbook.drafts import drafts_of
from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.recordings import get_recording
from fieldvoice.types import Recording

GAP = 60.0
"""Seconds between two recordings that are still one walk."""

_OVERLAP = 5.0  # seconds; recorders round their clocks
_ITSELF = 1.0  # seconds; moments are kept without their fractions


def recording_before(logbook: Logbook, at: datetime, yard: str | None) -> Recording | None:
    """The recording (of that yard, or of any if None) that ended just when this one began.

    A recording whose time is only that of its file is not trusted so far.
    """
    earliest = utc_text(at - timedelta(hours=24))
    rows = logbook.query(
        "SELECT recordings.uuid FROM recordings JOIN yards ON yards.id = yard_id"
        " WHERE recorded_at BETWEEN ? AND ? AND time_source <> 'file time'"
        " AND (? IS NULL OR yards.name = ?) ORDER BY recorded_at DESC",
        [earliest, utc_text(at), yard, yard],
    )
    for row in list(rows):
        before = get_recording(logbook, row["uuid"])
        ended = before.recorded.at + timedelta(seconds=before.duration)
        between = (at.astimezone(UTC) - ended.astimezone(UTC)).total_seconds()
        began = (at - before.recorded.at).total_seconds()
        if -_OVERLAP <= between <= GAP and began >= _ITSELF:
            return before
    return None


def last_hive(logbook: Logbook, recording: str) -> str | None:
    """The hive spoken of last in a recording, as its rows say; None if of none."""
    rows = [d.entry for d in drafts_of(logbook, recording) if d.entry.start is not None]
    rows.sort(key=lambda row: row.start or 0.0)
    hives = [row.hive for row in rows if row.hive not in (None, "all")]
    return hives[-1] if hives else None
