"""The whole way of hearing: a recording becomes a transcript.

decode -> voice detection -> windows -> recogniser -> times of the recording. Every step
is a generator, so only the few windows that are being decoded are in memory.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path

from threadpoolctl import threadpool_limits

from fieldvoice.hearing.decode import Decoding, Sound, decode, sound_hash
from fieldvoice.hearing.engines import LANGUAGE, Engine, Timed
from fieldvoice.hearing.store import (
    Heard,
    NoStore,
    WindowKey,
    WindowStore,
    from_json,
    prompt_hash,
    to_json,
)
from fieldvoice.hearing.vad import VadOptions, spoken
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.hearing.window import Ear, hear_window, open_ear
from fieldvoice.hearing.windows import Window, windows
from fieldvoice.types import Doubt, Progress, Segment, Stretch, Transcript, Word, no_progress

RECIPE = "6"  # counted up when the same sound would be heard differently
UNHEARD = 0.9  # seconds of a stretch, pads included, from which on silence of words is odd


@dataclass(slots=True)
class _Run:
    """One recording being heard."""

    ear: Ear
    sound: str
    store: WindowStore
    decoding: Decoding = field(default_factory=Decoding)

    def key(self, window: Window) -> str:
        return str(
            WindowKey(
                self.sound,
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
    path: Path,
    *,
    engine: Engine,
    second: Engine | None = None,
    vocabulary: Vocabulary = Vocabulary(),  # noqa: B008  # frozen
    vad: VadOptions = VadOptions(),  # noqa: B008  # frozen
    store: WindowStore | None = None,
    progress: Progress = no_progress,
) -> Transcript:
    """Hear `path` with a loaded engine; the engine can be used for many recordings.

    `second`, another model, hears the stretches with numbers too; where it differs, the
    transcript has a doubt. Windows found in `store` are not heard again; new ones are put there one by one.
    Progress is told as stage "hear", in seconds of the recording.

    Raises:
        RecordingError: the file is no recording, or there is no sound in it.
    """
    run = _Run(
        open_ear(engine, vocabulary, second),
        sound_hash(path),
        store if store is not None else NoStore(),
    )
    blocks = _reported(decode(path, run.decoding), run.decoding, progress)
    segments: list[Segment] = []
    speech: list[Stretch] = []
    unheard: list[Stretch] = []
    doubts: list[Doubt] = []
    # The workers are threads already: NumPy's own threads would only fight with them.
    with threadpool_limits(1, "blas"):
        for window, heard in _in_order(windows(spoken(blocks, vad)), run):
            speech += [piece.stretch for piece in window.pieces]
            found, missed = _place(window, heard)
            segments += found
            unheard += missed
            doubts += [_doubt(window, doubt) for doubt in heard.doubts]
    duration = run.decoding.duration
    progress("hear", duration, duration)
    return Transcript(
        text=" ".join(s.text for s in segments),
        language=LANGUAGE,
        engine=engine.name,
        model=engine.model,
        duration=duration,
        segments=tuple(replace(s, end=min(s.end, duration)) for s in segments),
        speech=_within(speech, duration),
        unheard=_within(unheard, duration),
        doubts=tuple(doubts),
    )


def _reported(blocks: Iterable[Sound], decoding: Decoding, progress: Progress) -> Iterator[Sound]:
    for block in blocks:
        yield block
        # Windows in flight lag behind, by under a minute: good enough for a bar.
        progress("hear", decoding.duration, max(decoding.expected, decoding.duration))


def _in_order(work: Iterable[Window], run: _Run) -> Iterator[tuple[Window, Heard]]:
    """Hear windows side by side, at most two per worker in memory, results in order.

    The store is only touched by the caller's thread: a database need not be shared.
    """
    queue: deque[tuple[Window, Heard | Future[Heard]]] = deque()
    with ThreadPoolExecutor(run.ear.engine.workers, thread_name_prefix="hear") as pool:
        try:
            for window in work:
                kept = run.store.get(run.key(window))
                queue.append(
                    (
                        window,
                        from_json(kept)
                        if kept is not None
                        else pool.submit(hear_window, run.ear, window),
                    )
                )
                while len(queue) >= 2 * run.ear.engine.workers:
                    yield _collect(*queue.popleft(), run)
            while queue:
                yield _collect(*queue.popleft(), run)
        finally:
            for _, outcome in queue:
                if isinstance(outcome, Future):
                    outcome.cancel()


def _collect(window: Window, outcome: Heard | Future[Heard], run: _Run) -> tuple[Window, Heard]:
    """Wait for a window if it was not kept, and keep it."""
    if isinstance(outcome, Heard):
        return window, outcome
    heard = outcome.result()
    run.store.put(run.key(window), to_json(heard))
    return window, heard


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
