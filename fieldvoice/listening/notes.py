"""What the recorder knows of its own recording, kept inside the sound file.

So that it is there wherever the file goes: when it began, where the microphone was away,
and when the recorder itself spoke.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path

from fieldvoice.listening.flac import notes_of
from fieldvoice.listening.own import ANSWER
from fieldvoice.types import Signal, Stretch

_ANSWERS = "FIELDVOICE_ANSWERS"
_GAPS = "FIELDVOICE_GAPS"
_SESSION = "FIELDVOICE_SESSION"


def notes_for(
    began: datetime, session: str, answers: Sequence[Signal], gaps: Sequence[Stretch]
) -> Mapping[str, str]:
    """The comments of a recording's file."""
    notes = {"creation_time": began.isoformat(timespec="milliseconds"), _SESSION: session}
    if answers:
        said = [[round(a.start, 3), round(a.end, 3), a.said] for a in answers]
        notes[_ANSWERS] = json.dumps(said, ensure_ascii=False)
    if gaps:
        notes[_GAPS] = json.dumps([[round(g.start, 3), round(g.end, 3)] for g in gaps])
    return notes


def answers_in(path: Path) -> tuple[Signal, ...]:
    """When the recorder itself spoke in a recording, as signals named "answer"."""
    try:
        said = json.loads(notes_of(path).get(_ANSWERS, "[]"))
        return tuple(Signal(ANSWER, float(a), float(b), float(b), str(c)) for a, b, c in said)
    except (TypeError, ValueError):
        return ()  # another program wrote it


def gaps_in(path: Path) -> tuple[Stretch, ...]:
    """Where the microphone was away, in seconds."""
    try:
        return tuple(
            Stretch(float(a), float(b)) for a, b in json.loads(notes_of(path).get(_GAPS, "[]"))
        )
    except (TypeError, ValueError):
        return ()


def session_of(path: Path) -> str | None:
    """The name of the session in which a recording was made here; None if it was not."""
    return notes_of(path).get(_SESSION)
