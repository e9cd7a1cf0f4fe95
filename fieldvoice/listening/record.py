"""The loop of a recording: sound in, pieces on the disk, and whoever wants to hear along."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Protocol

import numpy as np

from fieldvoice.listening.flac import Samples
from fieldvoice.listening.meter import Level, Meter
from fieldvoice.listening.pieces import LOCK, PieceWriter
from fieldvoice.listening.source import Source


class Listener(Protocol):
    """Hears along while it is recorded; must come back at once."""

    def hear(self, sound: Samples) -> None:
        """Take the next sound; gaps come as silence."""
        ...


Shown = Callable[[float, Level, str], None]
"""Told of every block: second of the recording, its level, and what is to be said."""


def record(
    source: Source,
    writer: PieceWriter,
    stop: threading.Event,
    show: Shown = lambda second, level, said: None,
    listener: Listener | None = None,
) -> None:
    """Record until `stop` is set or the source ends; every second is on the disk by then.

    Raises:
        RecordingError: the disk is full or gone; what was recorded is kept.
    """
    meter = Meter(source.rate)
    away = False
    try:
        for block in source.blocks(stop):
            said = ""
            if block.lost:
                writer.gap(block.lost, block.why)
                _silence(listener, block.lost)
                said = f"{block.why[0].upper()}{block.why[1:]} for {block.lost / source.rate:.1f} s; marked."
            if len(block.sound):
                writer.add(block.sound)
                if listener is not None:
                    listener.hear(block.sound)
            elif not away:
                writer.close_piece()
                said = f"{block.why[0].upper()}{block.why[1:]}; waiting for it."
            away = not len(block.sound)
            level = meter.take(block.sound)
            show(writer.place / source.rate, level, said or level.warning)
    finally:
        writer.finish()


def _silence(listener: Listener | None, samples: int) -> None:
    while listener is not None and samples > 0:
        listener.hear(np.zeros(min(samples, 1 << 16), np.int16))
        samples -= 1 << 16


@contextmanager
def session(
    folder: Path, rate: int, began: datetime, yard: str | None = None
) -> Iterator[PieceWriter]:
    """A new session that no other command takes for one that was cut off.

    Raises:
        RecordingError: the folder cannot be written.
    """
    from filelock import FileLock

    writer = PieceWriter(folder, rate, began, yard)
    with FileLock(writer.folder / LOCK):
        yield writer
