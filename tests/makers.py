"""What tests of several rooms make: rows, recordings, logbooks to look into, sound files."""

from __future__ import annotations

import contextlib
import sqlite3
import sys
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import av
import numpy as np

from fieldvoice.logbook.drafts import keep_drafts, waiting_drafts
from fieldvoice.logbook.recordings import keep_heard, new_uuid
from fieldvoice.types import (
    Draft,
    Entry,
    RecordedAt,
    Recording,
    Segment,
    Stretch,
    Transcript,
    Value,
    Word,
)

COMMAND = Path(sys.executable).parent / "fieldvoice"
"""As it was installed."""

SUMMER = timezone(timedelta(hours=2))
MAY = datetime(2026, 5, 3, 9, 30, tzinfo=SUMMER)

SYRUP = Entry(
    "7", "feed", "give", "syrup", "done",
    values=(Value("amount", 2, 2, "quart", said="two quarts"),
            Value("ratio", 2, 2, "sugar:water", said="two to one")),
    quote="gave her two quarts of two to one", start=12.5, end=15.25, confidence=0.97,
)  # fmt: skip
EGGS = Entry(
    "8", "brood", "see", "egg", "absent",
    quote="no eggs in eight", start=30.0, end=31.5, confidence=0.55, flags=("heard-unsurely",),
)  # fmt: skip
HEARD = Transcript(
    "gave her two quarts of two to one", "en", "test", "test", 40.0,
    segments=(Segment(12.5, 15.25, "gave her", (Word("gave", 12.5, 12.7, 0.9),
                                                Word("her", 12.8, 13.0, 0.8))),),
    unheard=(Stretch(33.0, 35.5),),
)  # fmt: skip

CODECS = {
    ".wav": "pcm_s16le", ".flac": "flac", ".mp3": "libmp3lame", ".m4a": "aac", ".ogg": "libopus",
    ".opus": "libopus", ".webm": "libopus",
}  # fmt: skip


def recording(
    number: int = 1, at: datetime = MAY, yard: str = "home", *, seconds: float = 40.0
) -> Recording:
    """A recording that nobody has; another number is another one."""
    return Recording(
        new_uuid(), f"{number:064x}", f"/recorder/{number}.ogg", RecordedAt(at, "option"),
        yard, seconds, "heard",
    )  # fmt: skip


def drafted(
    logbook: Any,
    entries: Sequence[Entry],
    number: int = 1,
    at: datetime = MAY,
    yard: str = "home",
    *,
    heard: Transcript = HEARD,
) -> tuple[Draft, ...]:
    """A recording with these drafts in the logbook; the drafts as they wait."""
    made = recording(number, at, yard, seconds=heard.duration)
    made = keep_heard(logbook, made, heard, at)
    keep_drafts(logbook, made.uuid, entries, at)
    return waiting_drafts(logbook, made.uuid)


def query(path: Path, sql: str, *values: object) -> list[Any]:
    """Rows of a logbook, by another connection than the program's."""
    with contextlib.closing(sqlite3.connect(path)) as database:
        return database.execute(sql, values).fetchall()


def write_sound(
    path: Path,
    wave: np.ndarray,
    rate: int = 16_000,
    *,
    at: int | None = None,
    codec: str = "",
    layout: str = "mono",
    tags: dict[str, str] | None = None,
) -> Path:
    """Write mono sound, -1 to 1; `at`, `layout` and `codec` are those of the file."""
    with av.open(str(path), "w") as container:
        container.metadata.update(tags or {})
        codec = codec or CODECS[path.suffix.lower()]
        stream = container.add_stream(codec, rate=at or rate, layout=layout)
        resampler = av.AudioResampler(stream.format.name, layout, at or rate)
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(wave[None, :], np.float32), format="flt", layout="mono"
        )
        frame.sample_rate = rate
        for piece in [*resampler.resample(frame), *resampler.resample(None), None]:
            container.mux(stream.encode(piece))
    return path
