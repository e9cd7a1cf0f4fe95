"""Moments as the logbook writes them: UTC to the second, and the offset of the place."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone


def utc_text(moment: datetime) -> str:
    """An aware moment in UTC.

    >>> from datetime import timezone, timedelta
    >>> utc_text(datetime(2026, 5, 3, 9, 30, tzinfo=timezone(timedelta(hours=2))))
    '2026-05-03T07:30:00Z'
    """
    return moment.astimezone(UTC).replace(tzinfo=None, microsecond=0).isoformat() + "Z"


def offset_minutes(moment: datetime) -> int:
    """Minutes that the moment's own clock is ahead of UTC."""
    ahead = moment.utcoffset() or timedelta()
    return round(ahead.total_seconds() / 60)


def local_moment(text: str, offset: int) -> datetime:
    """The moment back, on the clock it was told by.

    >>> local_moment('2026-05-03T07:30:00Z', 120).isoformat()
    '2026-05-03T09:30:00+02:00'
    """
    utc = datetime.fromisoformat(text.removesuffix("Z")).replace(tzinfo=UTC)
    return utc.astimezone(timezone(timedelta(minutes=offset)))
