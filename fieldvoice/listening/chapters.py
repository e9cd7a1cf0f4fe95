"""The chapters of one take as one recording; the originals stay as they are."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from fieldvoice.errors import RecordingError
from fieldvoice.listening.flac import Samples, write_whole
from fieldvoice.listening.inbox import Part
from fieldvoice.listening.source import to_samples

_RATE = 16_000  # samples a second; what is heard


def join_chapters(take: Sequence[Part], hashes: Sequence[str], folder: Path) -> Path:
    """Write the sound of a take into `folder`, under a name that its chapters' hashes make.

    A take that was joined before is not joined again.

    Raises:
        RecordingError: a chapter cannot be decoded, or there is no room.
    """
    mark = hashlib.sha256("".join(hashes).encode()).hexdigest()[:12]
    path = folder / f"{take[0].path.stem}-{mark}.flac"
    if path.is_file():
        return path
    folder.mkdir(parents=True, exist_ok=True)
    notes = {"creation_time": take[0].begins.isoformat(timespec="milliseconds")}
    try:
        write_whole(path, _sound(take), _RATE, notes)
    except OSError as error:
        raise RecordingError(
            f"The chapters of {take[0].path.name} cannot be joined in {folder} "
            f"({error.strerror or error}); make room there."
        ) from error
    return path


def _sound(take: Sequence[Part]) -> Iterator[Samples]:
    from fieldvoice.hearing.decode import decode

    for part in take:
        yield from map(to_samples, decode(part.path))
