"""A recording that is still being made, heard in long windows as it grows.

What is heard is kept under the session's name, window by window; when the recording is
whole, the same windows are found there and nothing but the end is left to hear.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from queue import Queue
from threading import Event

import numpy as np

from fieldvoice.hearing.ahead import Ahead
from fieldvoice.hearing.decode import RATE, Decoding, Sound
from fieldvoice.hearing.engines import WINDOW
from fieldvoice.hearing.vad import VadOptions, spoken
from fieldvoice.hearing.windows import Window, windows
from fieldvoice.listening.flac import Samples
from fieldvoice.types import Transcript

_AGAIN = 0.1  # seconds until it is asked again whether others are busy
_FRESH = 120.0  # seconds in which what was said may still be mended by what is said next


def settled(transcript: Transcript) -> float:
    """The second up to which hardly anything will be read otherwise by what comes.

    What was said before a thing was opened aloud is closed; else it takes a while.
    """
    heard = max((segment.end for segment in transcript.segments), default=0.0)
    opened = [signal.start for signal in transcript.signals if signal.name == "open"]
    return max([0.0, heard - _FRESH, *opened])


class Running(Ahead):
    """The windows of a session, each as soon as the sound after it has come.

    Only for sound of 16,000 samples a second: any other would be resampled otherwise than
    in the whole recording, and no window would be found again.
    """

    def __init__(
        self, session: str, longest: float = WINDOW, busy: Callable[[], bool] = lambda: False
    ) -> None:
        """`busy`: whether somebody who is waited for needs the recogniser just now."""
        self.sound = session
        self.longest = longest  # set to the engine's before the windows are taken
        self.decoding = Decoding()
        self._busy = busy
        self._ended = Event()
        self._blocks: Queue[Samples | None] = Queue()

    def hear(self, sound: Samples) -> None:
        """Take the next sound; comes back at once."""
        self._blocks.put(sound)

    @property
    def ended(self) -> bool:
        """Whether all sound has come: the whole is heard in a moment."""
        return self._ended.is_set()

    def end(self) -> None:
        """No more sound will come."""
        self._ended.set()
        self._blocks.put(None)

    def __iter__(self) -> Iterator[Window]:
        """Each window once, until the end; while it is recorded, others go first."""
        options = VadOptions().up_to(self.longest)
        for window in windows(spoken(self._sound(), options), self.longest):
            while self._busy() and not self._ended.wait(_AGAIN):
                pass
            yield window

    def close(self) -> None:
        """Nothing is held that would have to be let go."""

    def _sound(self) -> Iterator[Sound]:
        while (block := self._blocks.get()) is not None:
            self.decoding.duration += len(block) / RATE
            yield block.astype(np.float32) / 32768.0
