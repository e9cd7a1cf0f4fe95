"""Progress over a folder of recordings: seconds of all that are still to be heard."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from fieldvoice.hearing.decode import length_of
from fieldvoice.types import Progress


class Several:
    """Tells how far all recordings are, as each tells how far it is."""

    def __init__(self, paths: Iterable[Path], progress: Progress) -> None:
        self._progress = progress
        self._before = 0.0  # seconds of those that are through
        self._left = {path: length_of(path) for path in paths}

    def progress(self, path: Path) -> Progress:
        """What `path` is to report to."""

        def report(stage: str, done: float, total: float) -> None:
            if stage == "hear":
                self._left[path] = total
                total = self._before + sum(self._left.values())
                done += self._before
            self._progress(stage, done, total)

        return report

    def through(self, path: Path, *, heard: bool) -> None:
        """`path` is done with; one that was not heard took no time and counts for nothing."""
        length = self._left.pop(path, 0.0)
        if heard:
            self._before += length
