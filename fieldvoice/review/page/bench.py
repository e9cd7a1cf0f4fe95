"""What the page works with: the logbook, and the abilities that it is handed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from threading import Lock
from typing import Any

from fieldvoice.logbook.opening import Logbook, saying_what_is_wrong
from fieldvoice.logbook.recordings import transcript_of
from fieldvoice.types import Clock, Transcript, When

_KEPT = 4


@dataclass(frozen=True, slots=True)
class Bench:
    """One logbook, open for the page; sound and days come from rooms the page does not know."""

    logbook: Logbook
    path: Path
    samples: Callable[[Path, float, float], Iterable[bytes]]
    """16 kHz mono 16-bit sound of a recording between two seconds."""
    blocks: Callable[[Path], Iterable[Any]]
    """The whole recording as blocks of 16 kHz mono float samples."""
    days: Callable[[str, date], When | None]
    """The days that words such as "next Tuesday" mean, said on a given day."""
    numbers: Callable[[str], Sequence[float]]
    """The numbers that words say, by digit or by word."""
    clock: Clock
    beside: tuple[Any, ...] = ()
    """Routes of other rooms, shown behind the same guard; the first one is linked."""
    lock: Lock = field(default_factory=Lock)
    transcripts: dict[str, Transcript] = field(default_factory=dict)

    @contextlib.contextmanager
    def turn(self) -> Iterator[Logbook]:
        """The logbook for one request at a time."""
        with self.lock, saying_what_is_wrong(self.path):
            yield self.logbook

    def transcript(self, recording: str) -> Transcript:
        """What was heard: it never changes, so the last few are kept at hand."""
        found = self.transcripts.get(recording)
        if found is None:
            while len(self.transcripts) >= _KEPT:
                del self.transcripts[next(iter(self.transcripts))]
            found = self.transcripts[recording] = transcript_of(self.logbook, recording)
        return found
