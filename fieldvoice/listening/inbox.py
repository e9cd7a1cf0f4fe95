"""A folder that something syncs into: which files are whole, and which are one take.

Cameras and recorders cut a long take into chapters. Names tell too many stories to know
them all, so the rule is general: the names differ in one number that goes up by one, the
sound is of the same make, and one begins when the other ends (or both say the same begin).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from fieldvoice.errors import RecordingError
from fieldvoice.hearing.bounded import pyav
from fieldvoice.hearing.decode import SUFFIXES

MORE = (".3gp", ".aif", ".aiff", ".amr", ".avi", ".caf", ".m4v", ".mka", ".mkv", ".mp2", ".mpg", ".mts", ".wma")  # fmt: skip
"""Endings beside those of `add`: what cameras and old recorders write."""

ADJOINS = 3.0
"""Seconds by which a chapter may begin before or after the end of the one before it."""


@dataclass(frozen=True, slots=True)
class State:
    """A file as the folder shows it."""

    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True)
class Part:
    """A whole file with sound in it."""

    path: Path
    begins: datetime
    seconds: float
    make: tuple[str, int, int]  # codec, samples a second, channels


def look(folder: Path) -> Mapping[Path, State]:
    """The files that may hold sound, by their endings; hidden and unfinished ones are none.

    Raises:
        RecordingError: there is no such folder.
    """
    if not folder.is_dir():
        raise RecordingError(f"{folder}: there is no such folder. Make it, or name another.")
    found: dict[Path, State] = {}
    for place, folders, names in os.walk(folder):
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        for name in sorted(names):
            path = Path(place) / name
            if name.startswith(".") or path.suffix.lower() not in (*SUFFIXES, *MORE):
                continue
            try:
                stat = path.stat()
            except OSError:
                continue  # gone again already
            if stat.st_size:
                found[path] = State(stat.st_size, stat.st_mtime_ns)
    return found


@dataclass(slots=True)
class Patience:
    """Knows for how long each file has not changed."""

    wait: float  # seconds without a change after which a file counts as whole
    clock: Callable[[], float]
    _seen: dict[Path, tuple[State, float]] = field(default_factory=dict)

    def whole(self, files: Mapping[Path, State]) -> frozenset[Path]:
        """Those of `files` that have been as they are for long enough."""
        now = self.clock()
        self._seen = {
            path: self._seen[path]
            if path in self._seen and self._seen[path][0] == state
            else (state, now)
            for path, state in files.items()
        }
        return frozenset(p for p, (_, since) in self._seen.items() if now - since >= self.wait)


def probe(path: Path) -> Part:
    """What a file's sound is.

    Raises:
        RecordingError: there is no sound in it, or nobody can read it.
    """
    from fieldvoice.hearing.moment import recorded_at

    av = pyav()
    try:
        with av.open(str(path), metadata_errors="ignore") as container:
            if not container.streams.audio:
                raise RecordingError(f"{path}: there is no sound track in this file.")
            stream = container.streams.audio[0]
            seconds = (container.duration or 0) / av.time_base
            context = stream.codec_context
            make = (str(context.name), int(context.sample_rate or 0), int(context.channels or 0))
    except (av.error.FFmpegError, ValueError) as error:
        raise RecordingError(f"{path}: no sound recording was recognised in this file.") from error
    recorded = recorded_at(path)
    begins = recorded.at
    if recorded.source == "file time":  # it was closed then
        begins -= timedelta(seconds=seconds)
    return Part(path, begins, seconds, make)


def takes(parts: Iterable[Part]) -> Iterator[tuple[Part, ...]]:
    """Parts joined to takes, each in its order."""
    waiting = sorted(parts, key=lambda p: (p.path.parent, p.begins, p.path.name))
    while waiting:
        take = [waiting.pop(0)]
        while (following := _next(take, waiting)) is not None:
            waiting.remove(following)
            take.append(following)
        # The first that was taken may be one from the middle: names were of equal begins.
        while (before := next((p for p in waiting if _goes_on([p], take[0])), None)) is not None:
            waiting.remove(before)
            take.insert(0, before)
        yield tuple(take)


def _next(take: Sequence[Part], waiting: Sequence[Part]) -> Part | None:
    return next((part for part in waiting if _goes_on(take, part)), None)


def _goes_on(take: Sequence[Part], part: Part) -> bool:
    last = take[-1]
    if last.path.parent != part.path.parent or last.make != part.make:
        return False
    if not counts_on(last.path.name, part.path.name):
        return False
    ends = last.begins + timedelta(seconds=last.seconds)
    apart = abs((part.begins - ends).total_seconds())
    return apart <= ADJOINS or part.begins == take[0].begins


def counts_on(one: str, other: str) -> bool:
    """Whether two names differ in one number, which goes up by one.

    >>> counts_on("GX010123.MP4", "GX020123.MP4"), counts_on("yard_09.wav", "yard_10.wav")
    (True, True)
    >>> counts_on("yard_1.wav", "yard_3.wav"), counts_on("hive.wav", "yard.wav")
    (False, False)
    """
    first = next((n for n, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), None)
    if first is None:
        return False
    tail = next(
        n
        for n in range(min(len(one), len(other)) + 1)
        if n == min(len(one), len(other)) - first
        or one[len(one) - 1 - n] != other[len(other) - 1 - n]
    )
    a, b = one[first : len(one) - tail], other[first : len(other) - tail]
    return a.isdecimal() and b.isdecimal() and int(b) == int(a) + 1


def still_coming(take: Sequence[Part], unfinished: Iterable[Path]) -> bool:
    """Whether the next chapter of a take is being written just now."""
    last = take[-1].path
    return any(p.parent == last.parent and counts_on(last.name, p.name) for p in unfinished)
