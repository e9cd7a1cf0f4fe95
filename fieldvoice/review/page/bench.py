"""What the page works with: the logbook, and the abilities that it is handed."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from threading import Lock
from typing import Any

from fieldvoice.logbook.opening import Logbook, saying_what_is_wrong
from fieldvoice.types import Clock, When


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
    clock: Clock
    lock: Lock = field(default_factory=Lock)

    @contextlib.contextmanager
    def turn(self) -> Iterator[Logbook]:
        """The logbook for one request at a time."""
        with self.lock, saying_what_is_wrong(self.path):
            yield self.logbook
