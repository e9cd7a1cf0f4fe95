"""Keep a recording's seconds true: find sound that is missing by the clock of the computer.

A block may come late, but never early: the least lateness of the last seconds is what is
really missing. A sound card that loses blocks, or whose own clock is slow, shows here.
"""

from __future__ import annotations

from collections import deque

WATCHED = 5.0  # seconds over which the least lateness counts
MOST = 0.09  # seconds that may be missing before silence is put in


class Pace:
    """Compares samples that came with the time that passed."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._began: float | None = None
        self._samples = 0
        self._late: deque[tuple[float, float]] = deque()

    def missing(self, now: float, samples: int) -> int:
        """Samples that are missing before a block of so many that came at `now` (seconds)."""
        if self._began is None:
            self._began = now - samples / self._rate
        self._samples += samples
        late = now - self._began - self._samples / self._rate
        if late < 0.0 and now - self._began < WATCHED:  # the first one was late itself
            self._began += late
            self._late = deque((at, least - late) for at, least in self._late)
            late = 0.0
        self._late.append((now, late))
        while now - self._late[0][0] > WATCHED:
            self._late.popleft()
        whole = now - self._late[0][0] >= WATCHED * 0.9
        least = min(lateness for _, lateness in self._late)
        if not whole or least <= MOST:
            return 0
        return self._put_in(round(least * self._rate))

    def paused(self, now: float) -> int:
        """Samples that did not come since the last block, when it is known that they did not."""
        if self._began is None:
            return 0
        return self._put_in(max(0, round((now - self._began) * self._rate) - self._samples))

    def _put_in(self, samples: int) -> int:
        self._samples += samples
        self._late.clear()
        return samples
