"""The list of a session's pieces: one line of JSON each, safe on the disk before the next.

A line that a power cut tore is passed over: the piece it spoke of is found by its name.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

NAME = "manifest.jsonl"


@dataclass(frozen=True, slots=True)
class Begun:
    """The first line: when a session began, and how it is recorded."""

    session: str
    began: str  # ISO, with the offset of the place
    rate: int  # samples a second
    yard: str | None = None

    @property
    def moment(self) -> datetime:
        """When it began."""
        return datetime.fromisoformat(self.began)


@dataclass(frozen=True, slots=True)
class PieceLine:
    """One closed piece of sound."""

    file: str
    start: int  # sample of the recording
    samples: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Mark:
    """Something to know about a stretch: sound that was lost, an answer, a clean end."""

    mark: str  # "gap", "answer", "end"
    start: int  # sample of the recording
    end: int
    said: str = ""


@dataclass(frozen=True, slots=True)
class Given:
    """A signal that was understood as it was spoken; places are samples of the recording."""

    signal: str  # its name
    start: int
    end: int
    until: int  # end of the words that belong to it
    said: str = ""
    rest: str = ""


Line = Begun | PieceLine | Mark | Given


def append(folder: Path, line: Line) -> None:
    """Add a line; it survives a power cut from here on."""
    text = json.dumps(asdict(line), ensure_ascii=False) + "\n"
    with (folder / NAME).open("a", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def lines(folder: Path) -> Iterator[Line]:
    """The lines that can be read, in order."""
    try:
        raw = (folder / NAME).read_bytes()
    except FileNotFoundError:
        return
    for text in raw.split(b"\n"):
        line = _line(text)
        if line is not None:
            yield line


def _line(text: bytes) -> Line | None:
    try:
        raw: Any = json.loads(text)
        if "session" in raw:
            return Begun(**raw)
        if "signal" in raw:
            return Given(**raw)
        return Mark(**raw) if "mark" in raw else PieceLine(**raw)
    except (TypeError, ValueError):
        return None
