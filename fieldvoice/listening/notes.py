"""What the recorder knows of its own recording, kept inside the sound file.

So that it is there wherever the file goes: when it began, where the microphone was away,
which signals were understood, and when the recorder itself spoke.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from math import inf
from pathlib import Path

from fieldvoice.listening.flac import notes_of
from fieldvoice.listening.own import ANSWER
from fieldvoice.types import Signal, Stretch

_ANSWERS = "FIELDVOICE_ANSWERS"
_GAPS = "FIELDVOICE_GAPS"
_SESSION = "FIELDVOICE_SESSION"
_SIGNALS = "FIELDVOICE_SIGNALS"


def notes_for(
    began: datetime, session: str, known: Sequence[Signal], gaps: Sequence[Stretch]
) -> Mapping[str, str]:
    """The comments of a recording's file; `known`: signals and answers."""
    notes = {"creation_time": began.isoformat(timespec="milliseconds"), _SESSION: session}
    said = [[*_rounded(a.start, a.end), a.said] for a in known if a.name == ANSWER]
    if said:
        notes[_ANSWERS] = json.dumps(said, ensure_ascii=False)
    given = [
        [s.name, *_rounded(s.start, s.end, s.until), s.said, s.rest]
        for s in known
        if s.name != ANSWER
    ]
    if given:
        notes[_SIGNALS] = json.dumps(given, ensure_ascii=False)
    if gaps:
        notes[_GAPS] = json.dumps([_rounded(g.start, g.end) for g in gaps])
    return notes


def known_in(path: Path) -> tuple[Signal, ...]:
    """What was understood as a recording was made, and, named "answer", what was answered."""
    notes = notes_of(path)
    try:
        given = json.loads(notes.get(_SIGNALS, "[]"))
        said = json.loads(notes.get(_ANSWERS, "[]"))
        known = (
            *(_signal(name, (a, b, c), said, rest) for name, a, b, c, said, rest in given),
            *(_signal(ANSWER, (a, b, b), said) for a, b, said in said),
        )
    except (TypeError, ValueError, RecursionError):
        return ()  # another program wrote it
    return tuple(s for s in known if 0 <= s.start <= s.end <= s.until < inf)


def _signal(name: object, places: Iterable[object], said: object, rest: object = "") -> Signal:
    start, end, until = (float(str(at)) for at in places)
    return Signal(str(name), start, end, until, str(said), str(rest))


def _rounded(*seconds: float) -> list[float]:
    return [round(second, 3) for second in seconds]


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
