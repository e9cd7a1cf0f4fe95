"""Record, be killed, over and over: prints how much was spoken and what is left, as JSON.

    python killing.py FOLDER RECORDING TIMES SEED

Each time a child records the file at the pace of the disk. Before a block is handed to the
recorder, the number of samples spoken so far goes into a pipe: the parent reads it after
the kill. Faster than a voice is harder than in time with it: the same few samples are on
their way at any moment, and the kill falls between write, sync, rename and list far oftener.
"""

from __future__ import annotations

import json
import os
import random
import signal
import struct
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from fieldvoice.listening.flac import Samples
from fieldvoice.listening.record import record, session
from fieldvoice.listening.recover import join, sessions
from fieldvoice.listening.source import Block, to_samples

SIZE = 1600  # samples of a block


@dataclass(slots=True)
class Told:
    """Speaks, and tells first how much it has spoken."""

    sound: Samples
    pipe: int
    rate: int = 16_000

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        for start in range(0, len(self.sound), SIZE):
            block = self.sound[start : start + SIZE]
            os.write(self.pipe, struct.pack("<q", start + len(block)))
            yield Block(block)


def spoken_until_killed(folder: Path, sound: Samples, after: float, more: float) -> int:
    """Samples spoken when a recording of `sound` was killed.

    That is `more` seconds of real time after `after` seconds of sound had been spoken.
    """
    readable, writable = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(readable)
        with session(folder, 16_000, datetime.now(UTC)) as writer:
            record(Told(sound, writable), writer, threading.Event())
        os._exit(0)
    os.close(writable)
    told = b""
    while len(told) < 8 or struct.unpack("<q", told[-8:])[0] < after * 16_000:
        told += os.read(readable, 8)
    time.sleep(more)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(readable, 1 << 16):
        told += part
    os.close(readable)
    return int(struct.unpack("<q", told[-8:])[0])


def main() -> None:
    folder, recording = Path(sys.argv[1]), Path(sys.argv[2])
    draw = random.Random(int(sys.argv[4]))
    from fieldvoice.hearing.decode import decode

    sound = np.concatenate([to_samples(block) for block in decode(recording)])
    sound = np.tile(sound, 20)  # it is never spoken to its end
    for number in range(int(sys.argv[3])):
        place = folder / str(number)
        place.mkdir()
        spoken = spoken_until_killed(place, sound, draw.uniform(0.1, 40.0), draw.uniform(0.0, 0.03))
        left, same, damaged = 0, True, 0
        for one in sessions(place):
            joined = join(one, place / "out")
            found = np.concatenate([to_samples(b) for b in decode(joined.path)])
            left, damaged = len(found), joined.damaged
            same = bool((found == sound[:left]).all())
        print(json.dumps([spoken / 16_000, left / 16_000, same, damaged]), flush=True)


if __name__ == "__main__":
    main()
