"""When a recording was made, and how that is known."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.hearing.bounded import pyav
from fieldvoice.hearing.decode import check_readable
from fieldvoice.types import RecordedAt

# 2026-05-14, 20260514, 2026_05_14, and a time after it: 09-30, 0930, 093012, 09.30.12
_DATE = re.compile(
    r"(?<!\d)(20\d\d)([-_.]?)(0[1-9]|1[0-2])\2(0[1-9]|[12]\d|3[01])"
    r"(?:[-_ T.]{1,3}(?:at )?([01]\d|2[0-3])[-_.:h]?([0-5]\d)(?:[-_.:m]?([0-5]\d))?)?(?!\d)"
)
_NOON = 12  # a name with a day and no hour: the middle of that day
_TAGS = ("com.apple.quicktime.creationdate", "creation_time", "date", "recording_date", "ICRD")
_EARLIEST = datetime(1990, 1, 1, tzinfo=UTC)  # recorders with a dead clock write 1904 or 1970


def recorded_at(path: Path, option: str | None = None) -> RecordedAt:
    """The moment of the recording, aware, with the local offset.

    Asked in this order: the option, the container's metadata, a date in the file's
    name, the file's time.

    Raises:
        InputError: the option is no date.
        RecordingError: the file cannot be read.
    """
    if option is not None:
        return RecordedAt(_parse_option(option), "option")
    check_readable(path)
    for text in _metadata(path):
        moment = _iso(text)
        if moment is not None and moment >= _EARLIEST:
            return RecordedAt(moment, "container")
    named = in_name(path.name)
    if named is not None:
        return RecordedAt(named, "file name")
    return RecordedAt(datetime.fromtimestamp(path.stat().st_mtime, UTC).astimezone(), "file time")


def in_name(name: str) -> datetime | None:
    """A date in a file's name, with its time if there is one, else noon."""
    for found in _DATE.finditer(name):
        year, _, month, day, hour, minute, second = found.groups()
        try:
            moment = datetime(  # noqa: DTZ001  # the name is in local time, made aware below
                int(year), int(month), int(day),
                int(hour or _NOON), int(minute or 0), int(second or 0),
            )  # fmt: skip
        except ValueError:
            continue
        return moment.astimezone()
    return None


def _parse_option(text: str) -> datetime:
    moment = _iso(text)
    if moment is None:
        raise InputError(
            f"{text!r} is not a date. Write it as 2026-05-14 or 2026-05-14T09:30 "
            "(with +02:00 after it if not local time)."
        )
    return moment


def _iso(text: str) -> datetime | None:
    """ISO 8601; local time if it has no offset, noon if it has no hour. A year alone is none.

    An offset is kept: it tells which day it was where the keeper stood. UTC is what
    recorders write that know no place; it becomes local time.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    if re.fullmatch(r"\d{4}-?\d\d-?\d\d", text.strip()):
        moment = moment.replace(hour=_NOON)
    try:
        return moment if moment.utcoffset() else moment.astimezone()
    except (OverflowError, OSError, ValueError):
        return None


def _metadata(path: Path) -> list[str]:
    """Dates the container or its sound track carries, the most exact first."""
    av = pyav()
    try:
        with av.open(str(path), metadata_errors="ignore") as container:
            held: list[Any] = [container, *container.streams.audio]
            tags = {k.lower(): str(v) for part in held for k, v in part.metadata.items()}
    except (av.error.FFmpegError, ValueError):
        return []  # decoding will say what is wrong with it
    return [tags[tag.lower()] for tag in _TAGS if tag.lower() in tags]
