"""Sessions on the disk become recordings: after a clean end, and after any other.

The pieces are checked and joined at their places; where one is missing or damaged there
is silence, so that every later second keeps its time. Nothing is deleted here: `forget`
is for whoever knows that the recording is safe.
"""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from fieldvoice.errors import RecordingError
from fieldvoice.listening.flac import Samples, read_flac, write_whole
from fieldvoice.listening.manifest import Begun, Given, Line, Mark, PieceLine, lines
from fieldvoice.listening.notes import notes_for
from fieldvoice.listening.own import ANSWER
from fieldvoice.listening.pieces import LOCK
from fieldvoice.types import Signal, Stretch

_NAMED = re.compile(r"(\d{6})-(\d{11})\.flac")
_SILENT = 1 << 16  # zeros written at a time


@dataclass(frozen=True, slots=True)
class Joined:
    """A session as one recording."""

    path: Path
    session: Path  # folder of its pieces
    began: datetime
    yard: str | None
    seconds: float
    ended: bool  # as it should; False: it was cut off
    damaged: int  # pieces that gave silence
    gaps: tuple[Stretch, ...]  # where the microphone was away


@dataclass(frozen=True, slots=True)
class _Piece:
    path: Path
    start: int
    sha256: str | None  # None: it was not listed any more


def sessions(folder: Path) -> tuple[Path, ...]:
    """Sessions with sound in `folder` that nobody is recording, oldest first."""
    from filelock import FileLock, Timeout

    free = []
    for session in sorted(p for p in folder.glob("*") if p.is_dir()):
        lock = FileLock(session / LOCK, timeout=0)
        try:
            lock.acquire()
        except Timeout:
            continue
        lock.release()
        if _pieces(session):
            free.append(session)
    return tuple(free)


def join(session: Path, folder: Path) -> Joined:
    """Join the pieces of a session to one recording in `folder`.

    The same session always gives the same file, so that joining twice doubles nothing.

    Raises:
        RecordingError: there is no sound in it, or no room for the recording.
    """
    listed = list(lines(session))
    pieces = _pieces(session)
    if not pieces:
        raise RecordingError(f"{session}: there is no sound in this session.")
    begun = next((line for line in listed if isinstance(line, Begun)), None)
    if begun is None:
        begun = _unlisted(session)
    marks = [line for line in listed if isinstance(line, Mark)]
    gaps = tuple(_stretch(m, begun.rate) for m in marks if m.mark == "gap")
    folder.mkdir(parents=True, exist_ok=True)
    path = recording_path(begun, folder)
    tally = _Tally()
    notes = notes_for(begun.moment, begun.session, _known(listed, begun.rate), gaps)
    try:
        write_whole(path, _sound(pieces, tally), begun.rate, notes)
    except OSError as error:
        raise RecordingError(
            f"The recording cannot be joined in {folder} ({error.strerror or error}). Its "
            f"pieces are kept in {session}; make room and run `fieldvoice listen` again."
        ) from error
    return Joined(
        path=path,
        session=session,
        began=begun.moment,
        yard=begun.yard,
        seconds=tally.place / begun.rate,
        ended=any(m.mark == "end" for m in marks),
        damaged=tally.damaged,
        gaps=gaps,
    )


def recording_path(begun: Begun, folder: Path) -> Path:
    """Where the recording of a session lies in `folder` once it is whole."""
    return folder / f"{begun.moment:%Y-%m-%d_%H%M%S}-{begun.session[:8]}.flac"


def begun_in(session: Path) -> Begun:
    """When a session that is being recorded began, and how."""
    return next(line for line in lines(session) if isinstance(line, Begun))


def known_so_far(session: Path) -> tuple[Signal, ...]:
    """The signals that were understood as they were spoken, and what was answered."""
    return _known(list(lines(session)), begun_in(session).rate)


def _known(listed: Sequence[Line], rate: int) -> tuple[Signal, ...]:
    given = (
        Signal(g.signal, g.start / rate, g.end / rate, g.until / rate, g.said, g.rest)
        for g in listed
        if isinstance(g, Given)
    )
    answers = (
        Signal(ANSWER, m.start / rate, m.end / rate, m.end / rate, m.said)
        for m in listed
        if isinstance(m, Mark) and m.mark == "answer"
    )
    return (*given, *answers)


def forget(session: Path) -> None:
    """Delete the pieces of a session whose recording is safe."""
    shutil.rmtree(session, ignore_errors=True)


@dataclass(slots=True)
class _Tally:
    place: int = 0  # samples written
    damaged: int = 0


def _pieces(session: Path) -> list[_Piece]:
    """By the files themselves, so that a torn list costs nothing; checksums by the list."""
    sums = {line.file: line.sha256 for line in lines(session) if isinstance(line, PieceLine)}
    found = [(p, _NAMED.fullmatch(p.name)) for p in sorted(session.glob("*.flac"))]
    return [_Piece(p, int(m[2]), sums.get(p.name)) for p, m in found if m]


def _sound(pieces: list[_Piece], tally: _Tally) -> Iterator[Samples]:
    for piece in pieces:
        for silence in _zeros(piece.start - tally.place):
            tally.place += len(silence)
            yield silence
        for block in _read(piece, tally):
            tally.place += len(block)
            yield block


def _read(piece: _Piece, tally: _Tally) -> Iterator[Samples]:
    if piece.sha256 is not None:
        with piece.path.open("rb") as file:
            if hashlib.file_digest(file, "sha256").hexdigest() != piece.sha256:
                tally.damaged += 1
                return
    try:
        whole = list(read_flac(piece.path))
    except RecordingError:
        tally.damaged += 1
        return
    yield from whole


def _zeros(samples: int) -> Iterator[Samples]:
    while samples > 0:
        yield np.zeros(min(samples, _SILENT), np.int16)
        samples -= _SILENT


def _stretch(mark: Mark, rate: int) -> Stretch:
    return Stretch(mark.start / rate, mark.end / rate)


def _unlisted(session: Path) -> Begun:
    """A session whose first line is lost: told from the folder's name and the first piece."""
    import av

    first = _pieces(session)[0].path
    with av.open(str(first)) as container:
        rate = int(container.streams.audio[0].rate)
    stamp, _, short = session.name.rpartition("-")
    try:
        began = datetime.strptime(stamp, "%Y-%m-%d_%H%M%S").astimezone()
    except ValueError:
        began = datetime.fromtimestamp(first.stat().st_mtime).astimezone()
    return Begun(short, began.isoformat(), rate)
