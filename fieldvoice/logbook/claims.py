"""Claims on recordings: of two commands that add the same one, only one hears it.

A claim is a locked file beside the logbook. The system lets go of it when a process
ends in whatever way, so a killed command never blocks the next. Claims only save
work: that nothing is doubled is seen to by the logbook's transactions.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def claim(logbook: Path, sha256: str, *, wait: bool) -> Iterator[bool]:
    """Hold the claim on a recording; yields False if another process has it and not `wait`."""
    from filelock import FileLock, Timeout

    path = logbook.parent / f".{logbook.name}-{sha256[:16]}.claim"
    lock = FileLock(path, timeout=-1 if wait else 0)
    try:
        lock.acquire()
    except Timeout:
        yield False
        return
    try:
        yield True
    finally:
        # Before it is let go: whoever waits for it sees that it is gone and makes a new one.
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)
        lock.release()
