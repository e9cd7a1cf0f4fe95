"""A recording as a WAV file that a browser may ask pieces of.

Whatever the recording is (browsers differ in what they play), the page sees 16 kHz mono
WAV of its whole length. Only the piece that is asked for is decoded.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Callable, Iterable
from dataclasses import dataclass

RATE = 16_000
WIDTH = 2  # bytes of a sample
HEADER = 44  # bytes before the first sample
MOST = 30 * RATE * WIDTH
"""Bytes of one answer: half a minute. The browser asks for the next piece when it needs it."""

_RANGE = re.compile(r"bytes=(\d*)-(\d*)")


@dataclass(frozen=True, slots=True)
class Piece:
    """Bytes first to last (inclusive) of the WAV file."""

    first: int
    last: int
    total: int


def total_bytes(duration: float) -> int:
    """The length of the WAV file of a recording of so many seconds."""
    return HEADER + round(duration * RATE) * WIDTH


def asked_piece(header: str | None, duration: float) -> Piece | None:
    """The piece that a Range header asks for, at most MOST bytes; None if there is none such.

    >>> asked_piece("bytes=44-", 100.0)
    Piece(first=44, last=960043, total=3200044)
    >>> asked_piece("bytes=-4", 1.0)
    Piece(first=32040, last=32043, total=32044)
    """
    total = total_bytes(duration)
    found = _RANGE.fullmatch((header or "bytes=0-").strip())
    if found is None or not any(found.groups()):
        return None
    if found[1]:
        first = int(found[1])
        last = int(found[2]) if found[2] else total - 1
    else:
        first, last = max(0, total - int(found[2])), total - 1
    last = min(last, total - 1, first + MOST - 1)
    return Piece(first, last, total) if first <= last else None


def piece_bytes(piece: Piece, samples: Callable[[float, float], Iterable[bytes]]) -> bytes:
    """The bytes of a piece; `samples` gives the sound between two seconds.

    Where a recording gives less than its length promises, silence stands in its place.
    """
    head = _header(piece.total)[piece.first : piece.last + 1]
    first = max(0, piece.first - HEADER)
    last = piece.last + 1 - HEADER
    if last <= 0:
        return head
    start, end = first // WIDTH, -(-last // WIDTH)
    sound = b"".join(samples(start / RATE, end / RATE)).ljust((end - start) * WIDTH, b"\0")
    skip = first - start * WIDTH
    return head + sound[skip : skip + last - first]


def _header(total: int) -> bytes:
    size = total - HEADER
    return struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        b"RIFF", size + HEADER - 8, b"WAVE", b"fmt ", 16, 1, 1, RATE, RATE * WIDTH, WIDTH,
        8 * WIDTH, b"data", size,
    )  # fmt: skip
