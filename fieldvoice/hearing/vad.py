"""Where somebody speaks: the Silero voice detector over streamed blocks.

The network is the one that faster-whisper ships (Silero VAD v6, MIT). The rules that
turn its probabilities into stretches are Silero's own, run block by block with the
network's state carried over, so that the length of a recording does not matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from fieldvoice.hearing.decode import RATE, Sound

HOP = 512  # samples a probability is given for, 32 ms
CONTEXT = 64  # samples of the hop before, which the network sees too


@dataclass(frozen=True, slots=True)
class VadOptions:
    """When sound counts as speech; the defaults keep words at 0 dB and refuse wind."""

    threshold: float = 0.25  # probability from which on speech begins
    release: float = 0.10  # probability below which it ends
    min_speech: float = 0.10  # seconds; shorter bursts are clicks
    min_silence: float = 0.50  # seconds of quiet that part two stretches
    pad: float = 0.30  # seconds kept on both sides, so that no word is clipped
    longest: float = 27.0  # seconds of unbroken speech before it is cut at a quiet moment

    def up_to(self, window: float) -> VadOptions:
        """The same, with stretches that fit into windows of so many seconds."""
        return replace(self, longest=min(self.longest, window - 1.0))


@dataclass(slots=True)
class Spoken:
    """A stretch of speech with its sound and the probability of each 32 ms."""

    start: int  # sample of the recording
    sound: Sound
    voice: np.ndarray[tuple[int], np.dtype[np.float32]]

    @property
    def end(self) -> int:
        """One past the last sample."""
        return self.start + len(self.sound)


class VoiceDetector:
    """Silero's network with its memory of what came before."""

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model

        self._session = get_vad_model().session
        self._h = np.zeros((1, 1, 128), np.float32)
        self._c = np.zeros((1, 1, 128), np.float32)
        self._before = np.zeros(CONTEXT, np.float32)

    def __call__(self, hops: Sound) -> Sound:
        """Probabilities of speech for `hops`, a whole number of 512-sample hops."""
        rows = hops.reshape(-1, HOP)
        context = np.vstack([self._before, rows[:-1, -CONTEXT:]])
        self._before = rows[-1, -CONTEXT:].copy()
        out, self._h, self._c = self._session.run(
            None,
            {"input": np.hstack([context, rows]), "h": self._h, "c": self._c},
        )
        return np.asarray(out, np.float32).reshape(-1)


def spoken(blocks: Iterable[Sound], options: VadOptions = VadOptions()) -> Iterator[Spoken]:
    """Yield each stretch of speech, padded, in order, as soon as its end is known.

    Stretches never overlap: where pads would, the later one gives way. Speech without a
    pause is cut at the quietest moment of the last third of `longest`, without a pad.
    """
    listener = _Listener(options)
    for chunk in _hops(blocks):
        yield from listener.take(chunk)
    yield from listener.finish()


def _hops(blocks: Iterable[Sound]) -> Iterator[Sound]:
    """Blocks cut to whole hops; the last is filled with silence."""
    rest = np.zeros(0, np.float32)
    for block in blocks:
        joined = np.concatenate([rest, block])
        whole = len(joined) // HOP * HOP
        rest = joined[whole:]
        if whole:
            yield joined[:whole]
    if len(rest):
        yield np.pad(rest, (0, HOP - len(rest)))


class _Listener:
    """Silero's two thresholds, hop by hop, over a buffer of only what may still matter."""

    def __init__(self, options: VadOptions) -> None:
        self._options = options
        self._pad = round(options.pad * RATE / HOP)
        self._silence = round(options.min_silence * RATE / HOP)
        self._shortest = options.min_speech * RATE / HOP
        self._longest = round(options.longest * RATE / HOP)
        self._detector = VoiceDetector()
        self._sound = np.zeros(0, np.float32)
        self._voice = np.zeros(0, np.float32)
        self._first = 0  # hop of the recording at which the buffer begins
        self._seen = 0  # hops judged so far
        self._start: int | None = None  # hop at which the running speech began
        self._quiet: int | None = None  # hop at which it may have ended
        self._given = 0  # hop up to which sound has been handed on

    def take(self, chunk: Sound) -> Iterator[Spoken]:
        """Judge more hops; yields the stretches that end in them."""
        voice = self._detector(chunk)
        self._sound = np.concatenate([self._sound, chunk])
        self._voice = np.concatenate([self._voice, voice])
        for probability in voice:
            if (done := self._judge(float(probability))) is not None:
                yield done
        self._forget()

    def finish(self) -> Iterator[Spoken]:
        """The recording is over: so is the speech that was running."""
        if self._start is not None:
            done = self._close(self._start, self._quiet or self._seen)
            if done is not None:
                yield done

    def _judge(self, probability: float) -> Spoken | None:
        hop = self._seen
        self._seen += 1
        if self._start is None:
            if probability >= self._options.threshold:
                self._start, self._quiet = hop, None
            return None
        if probability >= self._options.threshold:
            self._quiet = None
        elif probability < self._options.release and self._quiet is None:
            self._quiet = hop
        if self._quiet is not None and hop - self._quiet >= self._silence:
            return self._close(self._start, self._quiet)
        if hop - self._start >= self._longest:
            return self._split(self._start)
        return None

    def _close(self, start: int, end: int) -> Spoken | None:
        """The running speech is over; a burst as short as a click is forgotten."""
        self._start = self._quiet = None
        if end - start < self._shortest:
            return None
        # All of the quiet after `end` has been seen, so its pad can be taken at once.
        return self._hand_on(start - self._pad, min(end + self._pad, self._seen))

    def _split(self, start: int) -> Spoken:
        """Unbroken speech ends where the voice is weakest, taken over 5 hops (160 ms)."""
        late = self._seen - self._longest // 3
        recent = self._voice[late - self._first : self._seen - self._first]
        weakest = late + int(np.argmin(np.convolve(recent, np.ones(5), mode="same")[2:-2])) + 2
        self._start, self._quiet = weakest, None
        return self._hand_on(start - self._pad, weakest)

    def _hand_on(self, start: int, end: int) -> Spoken:
        start = max(start, self._given)
        self._given = end
        a, b = start - self._first, end - self._first
        return Spoken(start * HOP, self._sound[a * HOP : b * HOP].copy(), self._voice[a:b].copy())

    def _forget(self) -> None:
        """Drop the sound that no stretch can claim any more."""
        begun = self._seen if self._start is None else self._start
        drop = max(0, begun - self._pad - self._first)
        self._sound = self._sound[drop * HOP :]
        self._voice = self._voice[drop:]
        self._first += drop
