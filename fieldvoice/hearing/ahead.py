"""A recording is decoded and cut into windows in a thread of its own, a little ahead of the ear.

So the recogniser never waits for a codec, and the next recording can be made ready while
one is being heard. Only a few windows wait at a time: memory does not grow with length.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import Full, Queue
from threading import Event

from fieldvoice.hearing.decode import Decoding, decode, sound_hash
from fieldvoice.hearing.engines import WINDOW
from fieldvoice.hearing.vad import VadOptions, spoken
from fieldvoice.hearing.windows import Window, windows
from fieldvoice.types import Transcript

DEPTH = 8  # windows that wait at most; under 2 MB each
PATIENCE = 0.2  # seconds after which a full queue is tried again


class Ahead:
    """The windows of one recording, in order, being made ready since this was called.

    Raises:
        RecordingError: no such file or not permitted; while the windows are taken: the
            file is no recording, or there is no sound in it.
    """

    so_far: Callable[[Transcript], None] | None = None
    """Told after each window what was heard by then; for whoever cannot wait for the end."""

    def __init__(
        self,
        path: Path,
        *,
        longest: float = WINDOW,
        vad: VadOptions = VadOptions(),  # noqa: B008  # frozen
    ) -> None:
        self.sound = sound_hash(path)
        self.longest = longest
        self.decoding = Decoding()
        self._waiting: Queue[Window | None] = Queue(DEPTH)
        self._closed = Event()
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="decode")
        self._work = self._pool.submit(self._fill, path, vad)

    def __iter__(self) -> Iterator[Window]:
        """Each window once; then, if decoding failed, its error."""
        while (window := self._waiting.get()) is not None:
            yield window
        self._work.result()

    def close(self) -> None:
        """Stop decoding; what was not taken is dropped."""
        self._closed.set()
        self._pool.shutdown()

    def _fill(self, path: Path, vad: VadOptions) -> None:
        try:
            for window in windows(
                spoken(decode(path, self.decoding), vad.up_to(self.longest)), self.longest
            ):
                if not self._put(window):
                    return
        finally:
            self._put(None)

    def _put(self, window: Window | None) -> bool:
        """Wait for a place in the queue; False if nobody will take from it any more."""
        while not self._closed.is_set():
            try:
                self._waiting.put(window, timeout=PATIENCE)
            except Full:
                continue
            return True
        return False
