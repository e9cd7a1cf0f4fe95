"""The whole way of hearing: a recording becomes a transcript.

decode -> voice detection -> windows -> recogniser -> times of the recording. Only the few
windows that are being decoded are in memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from pathlib import Path

from fieldvoice.hearing.ahead import Ahead
from fieldvoice.hearing.crew import Crew, shift
from fieldvoice.hearing.engines import LANGUAGE, Adviser, Engine, Timed
from fieldvoice.hearing.memory import give_back
from fieldvoice.hearing.store import (
    Heard,
    NoStore,
    WindowKey,
    WindowStore,
    from_json,
    prompt_hash,
    to_json,
)
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.hearing.window import Ear, open_ear
from fieldvoice.hearing.windows import Window
from fieldvoice.types import Doubt, Progress, Segment, Stretch, Transcript, Word, no_progress

RECIPE = "14"  # counted up when the same sound would be heard differently
UNHEARD = 0.9  # seconds of a stretch, pads included, from which on silence of words is odd


@dataclass(slots=True)
class _Run:
    """One recording being heard."""

    ear: Ear
    ahead: Ahead
    store: WindowStore
    kept: float = 0.0  # seconds at the start that an earlier run has heard

    def key(self, window: Window) -> str:
        return str(
            WindowKey(
                self.ahead.sound,
                window.key,
                self.ear.engine.name,
                self.ear.engine.model,
                prompt_hash(
                    RECIPE,
                    self.ear.prompt,
                    repr(self.ear.vocabulary),
                    self.ear.second.model if self.ear.second else "",
                ),
            )
        )


def hear(
    recording: Path | Ahead,
    *,
    engine: Engine,
    second: Adviser | None = None,
    vocabulary: Vocabulary = Vocabulary(),  # noqa: B008  # frozen
    store: WindowStore | None = None,
    progress: Progress = no_progress,
    crew: Crew | None = None,
) -> Transcript:
    """Hear a recording with a loaded engine, which can be used for many recordings.

    `recording` is a file, or the windows of one that are being made ready. `second`,
    another model, hears the stretches with numbers too; where it differs, the transcript
    has a doubt. Windows found in `store` are not heard again; new ones are put there one
    by one. Windows are heard by `crew`, or by threads of this process. Progress is told
    as stage "hear", in seconds of the recording.

    Raises:
        RecordingError: the file is no recording, or there is no sound in it.
    """
    ahead = recording if isinstance(recording, Ahead) else Ahead(recording, longest=engine.window)
    run = _Run(
        open_ear(engine, vocabulary, second), ahead, store if store is not None else NoStore()
    )
    parts = _Parts(engine)
    try:
        for window, heard in _in_order(run, crew, progress):
            parts.take(window, heard)
            if ahead.so_far is not None:
                ahead.so_far(parts.transcript(ahead.decoding.duration))
    finally:
        ahead.close()
    duration = ahead.decoding.duration
    progress("hear", duration - run.kept, duration - run.kept)
    return parts.transcript(duration)


@dataclass(slots=True)
class _Parts:
    """What the windows gave, as one transcript."""

    engine: Engine
    segments: list[Segment] = field(default_factory=list)
    speech: list[Stretch] = field(default_factory=list)
    unheard: list[Stretch] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)

    def take(self, window: Window, heard: Heard) -> None:
        self.speech += [piece.stretch for piece in window.pieces]
        found, missed = _place(window, heard)
        self.segments += found
        self.unheard += missed
        self.doubts += [_doubt(window, doubt) for doubt in heard.doubts]

    def transcript(self, duration: float) -> Transcript:
        return Transcript(
            text=" ".join(s.text for s in self.segments),
            language=LANGUAGE,
            engine=self.engine.name,
            model=self.engine.model,
            duration=duration,
            segments=tuple(replace(s, end=min(s.end, duration)) for s in self.segments),
            speech=_within(self.speech, duration),
            unheard=_within(self.unheard, duration),
            doubts=tuple(self.doubts),
        )


def _in_order(run: _Run, crew: Crew | None, progress: Progress) -> Iterator[tuple[Window, Heard]]:
    """Hear windows side by side, at most two per worker in memory, results in order.

    The store is only touched by the caller's thread: a database need not be shared.
    """
    queue: deque[tuple[Window, Heard | Future[Heard]]] = deque()
    resuming = True  # until a window is new
    with shift(run.ear, crew) as workers:
        try:
            for window in run.ahead:
                kept = run.store.get(run.key(window))
                queue.append((window, workers.hear(window) if kept is None else from_json(kept)))
                resuming = resuming and kept is not None
                if resuming:
                    run.kept = window.pieces[-1].stretch.end
                while len(queue) >= 2 * workers.workers:
                    yield _collect(*queue.popleft(), run)
                    _report(run, queue, progress)
            while queue:
                yield _collect(*queue.popleft(), run)
                _report(run, queue, progress)
        finally:
            for _, outcome in queue:
                if isinstance(outcome, Future):
                    outcome.cancel()


def _report(
    run: _Run, queue: deque[tuple[Window, Heard | Future[Heard]]], progress: Progress
) -> None:
    """All is heard up to the first window that is still being worked on.

    What an earlier run has heard takes no time, so it is not counted: time left stays right.
    """
    decoding = run.ahead.decoding
    done = queue[0][0].pieces[0].stretch.start if queue else decoding.duration
    total = max(decoding.expected, decoding.duration)
    progress("hear", max(0.0, done - run.kept), total - run.kept)


def _collect(window: Window, outcome: Heard | Future[Heard], run: _Run) -> tuple[Window, Heard]:
    """Wait for a window if it was not kept, and keep it."""
    if isinstance(outcome, Heard):
        return window, outcome
    raw = to_json(outcome.result())
    give_back()
    run.store.put(run.key(window), raw)
    return window, from_json(raw)  # rounded, so that a run that goes on from here ends the same


def _place(window: Window, heard: Heard) -> tuple[list[Segment], list[Stretch]]:
    """Words to their stretches of the recording; a stretch without any is unheard."""
    per_piece: list[list[Word]] = [[] for _ in window.pieces]
    at = 0
    for timed in heard.words:
        # The piece under the word's middle; words keep their order over the pieces.
        at = max(at, window.piece_at((timed.start + timed.end) / 2))
        per_piece[at].append(_word(window, timed, at, per_piece[at]))
    segments, unheard = [], []
    for piece, words in zip(window.pieces, per_piece, strict=True):
        where = piece.stretch
        if words:
            text = " ".join(w.word for w in words)
            segments.append(Segment(where.start, where.end, text, tuple(words)))
        elif not heard.trusted or where.end - where.start >= UNHEARD:
            unheard.append(where)
    return segments, unheard


def _word(window: Window, timed: Timed, piece: int, before: Sequence[Word]) -> Word:
    """A word in seconds of the recording, not before the word ahead of it."""
    earliest = before[-1].start if before else 0.0
    start = max(window.time(timed.start, piece), earliest)
    end = max(window.time(timed.end, piece), start)
    return Word(timed.word, start, end, min(max(timed.probability, 0.0), 1.0))


def _doubt(window: Window, doubt: Doubt) -> Doubt:
    """A doubt in seconds of the recording."""
    piece = window.piece_at((doubt.start + doubt.end) / 2)
    start = window.time(doubt.start, piece)
    return replace(doubt, start=start, end=max(start, window.time(doubt.end, piece)))


def _within(stretches: list[Stretch], duration: float) -> tuple[Stretch, ...]:
    """The last 32 ms may be filled with silence; the recording ends where it ends."""
    return tuple(Stretch(s.start, min(s.end, duration)) for s in stretches)
