"""Hear along while it is recorded: words a moment after they were said, and the signals.

The same voice detector and recogniser as for a whole recording, on short windows: a window
is closed by a shorter pause, and unbroken talk is cut after a few seconds. What is heard
here is shown and answered; the drafts come of long windows, which are heard better.
"""

from __future__ import annotations

import queue
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldvoice.listening.flac import Samples
from fieldvoice.listening.own import own_words
from fieldvoice.listening.signals import calls, find_signals
from fieldvoice.listening.wording import Wording
from fieldvoice.types import Segment, Signal, Transcript, Word

if TYPE_CHECKING:
    from fieldvoice.hearing.vad import Spoken
    from fieldvoice.hearing.window import Ear

PAUSE = 0.4  # seconds of quiet that close a window
LONGEST = 6.0  # seconds of unbroken speech before it is cut at a quiet moment
KEPT = 300.0  # seconds of words that are kept to be read back
TAIL = 45.0  # seconds of words in which signals are looked for
WAITING = 8  # windows that may wait for the recogniser; then the oldest is passed over

Float = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Told:
    """Whom the live hearing tells; called from its own thread, one call at a time."""

    words: Callable[[Sequence[Word]], None]
    signal: Callable[[Signal, Transcript], None]
    """A signal, and what was heard before it."""
    not_understood: Callable[[float], None]
    """The phrase was said at that second, and no signal after it."""
    behind: Callable[[float], None]
    """A window that begins at that second was passed over: the machine is too slow."""


class Live:
    """Takes sound as it is recorded, and tells what was heard in it."""

    def __init__(
        self, open_ear: Callable[[], Ear], wording: Wording, told: Told, rate: int
    ) -> None:
        """Begin; `open_ear` is called in a thread of its own, since loading takes seconds."""
        self._wording = wording
        self._told = told
        self._rate = rate
        self._blocks: queue.Queue[Samples | None] = queue.Queue()
        self._heard: queue.Queue[tuple[Spoken, Future[Any]] | None] = queue.Queue()
        self._words: deque[Word] = deque()
        self._answers: list[Signal] = []  # what the recorder itself said
        self._fired = -1.0  # second up to which signals have been told
        self._called = -1.0
        self._open_ear = open_ear
        self._working = False
        self._failed: BaseException | None = None
        self._threads = [
            threading.Thread(target=self._guarded, args=(work,), name=name, daemon=True)
            for work, name in ((self._cut, "live-cut"), (self._collect, "live-collect"))
        ]
        for thread in self._threads:
            thread.start()

    def hear(self, sound: Samples) -> None:
        """Take the next sound; comes back at once."""
        if self._failed is None:
            self._blocks.put(sound)

    def busy(self) -> bool:
        """Whether there are windows that are being heard, or wait for it."""
        return self._working or not self._heard.empty()

    def spoke(self, answer: Signal) -> None:
        """The recorder itself spoke: its words are nobody's."""
        self._answers.append(answer)

    def close(self) -> None:
        """Hear what is left, and end.

        Raises:
            FieldvoiceError: the hearing failed on the way.
        """
        self._blocks.put(None)
        for thread in self._threads:
            thread.join()
        if self._failed is not None:
            raise self._failed

    def _guarded(self, work: Callable[[], None]) -> None:
        try:
            work()
        except BaseException as error:  # noqa: BLE001 - raised again by close()
            self._failed = self._failed or error
            self._heard.put(None)

    def _cut(self) -> None:
        """Stretches of speech to the recogniser, as soon as each has ended."""
        from threadpoolctl import threadpool_limits

        from fieldvoice.hearing.vad import VadOptions, spoken
        from fieldvoice.hearing.window import hear_window
        from fieldvoice.hearing.windows import windows

        ear = self._open_ear()
        options = VadOptions(min_silence=PAUSE, longest=LONGEST)
        pool = ThreadPoolExecutor(ear.engine.workers, thread_name_prefix="live-hear")
        with threadpool_limits(1, "blas"), pool:
            for stretch in spoken(self._sound(), options):
                (window,) = windows([stretch])
                self._heard.put((stretch, pool.submit(hear_window, ear, window)))
        self._heard.put(None)

    def _sound(self) -> Iterator[Float]:
        """Blocks as the voice detector takes them: 16 kHz floats."""
        resample = _resampler(self._rate)
        while (block := self._blocks.get()) is not None:
            yield resample(block)

    def _collect(self) -> None:
        """Words in the order they were said, and what they ask."""
        while (next_one := self._heard.get()) is not None:
            self._working = True
            stretch, future = next_one
            begins = stretch.start / 16_000
            if self._heard.qsize() > WAITING and future.cancel():
                self._told.behind(begins)
                continue
            words = [
                Word(w.word, begins + w.start, begins + max(w.start, w.end), w.probability)
                for w in future.result().words
            ]
            own = own_words(words, self._answers)
            if not own.issuperset(words):
                self._take([w for w in words if w not in own])
            self._working = False

    def _take(self, words: Sequence[Word]) -> None:
        self._words.extend(words)
        now = words[-1].end
        while self._words[0].end < now - KEPT:
            self._words.popleft()
        self._told.words(words)
        tail = [w for w in self._words if w.end > now - TAIL]
        for signal in find_signals(tail, self._wording):
            if signal.start >= self._fired:
                self._fired = signal.end
                self._told.signal(signal, self._before(signal))
        called = calls(tail, self._wording)
        if called is None or called <= max(self._called, self._fired):
            return
        if tail[-1].start - called > self._wording.reach:  # something else was said
            self._called = called
            self._told.not_understood(called)

    def _before(self, signal: Signal) -> Transcript:
        """What was heard before a signal, with the signals in it."""
        words = tuple(w for w in self._words if w.end <= signal.start + 0.001)
        text = " ".join(w.word.strip() for w in words)
        segment = Segment(words[0].start, words[-1].end, text, words) if words else None
        return Transcript(
            text=text,
            language="en",
            engine="",
            model="",
            duration=signal.start,
            segments=(segment,) if segment else (),
            signals=find_signals(words, self._wording),
        )


def _resampler(rate: int) -> Callable[[Samples], Float]:
    """16-bit samples of any rate to 16 kHz floats, with the resampler's memory kept."""
    if rate == 16_000:
        return lambda block: block.astype(np.float32) / 32768.0
    import av

    resampler = av.AudioResampler(format="flt", layout="mono", rate=16_000)

    def resample(block: Samples) -> Float:
        frame = av.AudioFrame.from_ndarray(block[None, :], format="s16", layout="mono")
        frame.sample_rate = rate
        out = [f.to_ndarray().reshape(-1).astype(np.float32) for f in resampler.resample(frame)]
        return np.concatenate(out) if out else np.zeros(0, np.float32)

    return resample
