"""Sound on the disk as it comes: short closed pieces, each safe before the next begins.

A piece is encoded, synced and renamed, then listed with its checksum. Its name holds its
place in the recording, so that even without the list every second keeps its time. What a
power cut can take is the piece that was not closed.
"""

from __future__ import annotations

import hashlib
import os
import uuid
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

import numpy as np

from fieldvoice.errors import RecordingError
from fieldvoice.listening.flac import Samples, write_flac
from fieldvoice.listening.manifest import Begun, Given, Mark, PieceLine, append
from fieldvoice.types import Signal

SECONDS = 1.5
"""Length of a piece; with the block that is on its way, less than two seconds are at risk."""

LOCK = "in-use.lock"


class PieceWriter:
    """One session: takes sound in any portions, writes pieces, keeps the place."""

    def __init__(self, folder: Path, rate: int, began: datetime, yard: str | None = None) -> None:
        """Begin a session in a new folder below `folder`.

        Raises:
            RecordingError: the folder cannot be written.
        """
        self.session = str(uuid.uuid4())
        self.rate = rate
        self.place = 0  # samples of the recording so far, gaps included
        self.folder = folder / f"{began:%Y-%m-%d_%H%M%S}-{self.session[:8]}"
        self._waiting: list[Samples] = []
        self._held = 0
        self._number = 0
        try:
            self.folder.mkdir(parents=True)
            append(self.folder, Begun(self.session, began.isoformat(), rate, yard))
            _sync_folder(folder)
        except OSError as error:
            raise _no_room(self.folder, error) from error

    def add(self, sound: Samples) -> None:
        """Take more sound; pieces that are full are on the disk when this returns.

        Raises:
            RecordingError: the disk is full or gone.
        """
        self._waiting.append(sound)
        self._held += len(sound)
        self.place += len(sound)
        if self._held >= SECONDS * self.rate:
            self.close_piece()

    def gap(self, samples: int, why: str) -> None:
        """No sound came for so long: the place moves on, and the gap is listed."""
        self.close_piece()
        self._append(Mark("gap", self.place, self.place + samples, why))
        self.place += samples

    def answered(self, start: int, end: int, said: str) -> None:
        """The recorder itself spoke between two samples."""
        self._append(Mark("answer", start, end, said))

    def given(self, signal: Signal) -> None:
        """A signal was understood, and the keeper was told so."""
        start, end, until = (
            round(at * self.rate) for at in (signal.start, signal.end, signal.until)
        )
        self._append(Given(signal.name, start, end, until, signal.said, signal.rest))

    def finish(self) -> None:
        """Close the last piece and note that the session ended as it should."""
        self.close_piece()
        self._append(Mark("end", self.place, self.place))

    def close_piece(self) -> None:
        """Put what is waiting on the disk."""
        if not self._held:
            return
        sound = np.concatenate(self._waiting)
        start = self.place - self._held
        self._waiting, self._held = [], 0
        name = piece_name(self._number, start)
        self._number += 1
        try:
            sha256 = _write_piece(self.folder / name, [sound], self.rate)
        except OSError as error:
            raise _no_room(self.folder, error) from error
        self._append(PieceLine(name, start, len(sound), sha256))

    def _append(self, line: PieceLine | Mark | Given) -> None:
        try:
            append(self.folder, line)
        except OSError as error:
            raise _no_room(self.folder, error) from error


def piece_name(number: int, start: int) -> str:
    """The name of a piece; sorted names are in the order of the sound."""
    return f"{number:06}-{start:011}.flac"


def _write_piece(path: Path, sound: Iterable[Samples], rate: int) -> str:
    """Write beside, sync, rename: nobody ever sees half a piece. Gives its sha256."""
    beside = path.with_suffix(".part")
    write_flac(beside, sound, rate)
    with beside.open("rb+") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
        os.fsync(file.fileno())
    beside.rename(path)
    _sync_folder(path.parent)
    return sha256


def _sync_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _no_room(folder: Path, error: OSError) -> RecordingError:
    return RecordingError(
        f"The recording cannot be written to {folder} ({error.strerror or error}). What was "
        "recorded before is kept; make room and start `fieldvoice listen` again."
    )
