"""The whole way of a recording, in the order of the rooms.

hash -> known? -> hear -> kept ("heard") -> extract -> kept ("drafted"). Each stage is
kept in one transaction, so whatever stops the way, the next run goes on from the last
finished stage; hearing itself goes on from the last finished window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from copy import copy
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache, partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, Literal

from fieldvoice.errors import RecordingError
from fieldvoice.logbook.claims import claim
from fieldvoice.logbook.drafts import keep_drafts, save_step, waiting_drafts
from fieldvoice.logbook.following import last_hive, recording_before
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.logbook.recordings import (
    find_recording,
    growing_hash,
    keep_heard,
    keep_path,
    new_uuid,
    transcript_of,
    unheard_of,
)
from fieldvoice.logbook.register import read_register
from fieldvoice.logbook.windows import Windows, forget_windows
from fieldvoice.review.learning import in_use, learnt
from fieldvoice.settings import Settings
from fieldvoice.types import (
    Clock,
    Entry,
    Progress,
    RecordedAt,
    Recording,
    Register,
    Signal,
    Transcript,
    no_progress,
)

if TYPE_CHECKING:
    from fieldvoice.hearing.ahead import Ahead
    from fieldvoice.hearing.crew import Crew
    from fieldvoice.hearing.store import WindowStore
    from fieldvoice.hearing.vocabulary import Vocabulary
    from fieldvoice.hearing.window import Ear
    from fieldvoice.listening.running import Running

Hear = Callable[[Path, Register, Settings, "WindowStore", Progress], Transcript]
Extract = Callable[[Transcript, datetime, Register, Settings], tuple[Entry, ...]]


@dataclass(frozen=True, slots=True)
class Added:
    """What became of one recording."""

    path: Path
    outcome: Literal["added", "finished", "known", "failed"]
    recording: Recording | None = None
    drafts: int = 0
    unheard: int = 0  # stretches of speech without words
    problem: str = ""


_STEP = 30.0  # seconds of a growing recording that are worth reading all of it anew ...
_SHARE = 0.05  # ... or this share of it, so that long ones are not read over and over
_LOADING = Lock()  # two threads that want the engine get the same one
_READY: dict[Path, Ahead] = {}  # recordings that are being decoded before their turn


def make_ready(path: Path, settings: Settings, session: str | None = None) -> None:
    """Begin to decode a recording that is to be heard soon; only a little of it is held.

    `session`: the one it was made in, whose windows may have been heard already.

    Raises:
        RecordingError: no such file or not permitted.
        ModelError: the speech weights are missing or wrong.
    """
    from fieldvoice.hearing.ahead import Ahead

    if path not in _READY:
        engine = _engine(settings.engine, settings.model, settings.model_folder)
        _READY[path] = Ahead(path, longest=engine.window)
        _READY[path].sound = session or _READY[path].sound


def hear_recording(
    path: Path,
    register: Register,
    settings: Settings,
    store: WindowStore,
    progress: Progress,
    crew: Crew | None = None,
    signals: Path | None = None,
) -> Transcript:
    """Hear a recording with the engine and model of the settings, loaded once.

    `crew`: workers in other processes that hear its windows. `signals`: folder of the
    keeper's own signals.toml.

    Raises:
        RecordingError: the file is no recording.
        ModelError: the speech weights are missing or wrong.
    """
    from fieldvoice.hearing.decode import check_recording
    from fieldvoice.hearing.transcribe import hear

    ready = _READY.pop(path, None)
    if ready is None:
        check_recording(path)
    return hear(
        path if ready is None else ready,
        engine=_engine(settings.engine, settings.model, settings.model_folder),
        second=_second(settings.model, settings.model_folder),
        vocabulary=_vocabulary(register, signals),
        store=store,
        progress=progress,
        crew=crew,
    )


def ear_of(settings: Settings, register: Register, signals: Path | None = None) -> Ear:
    """What hears along while it is recorded: the engine of the settings, without a second.

    `signals`: folder of the keeper's own signals.toml.

    Raises:
        ModelError: the speech weights are missing or wrong.
    """
    from fieldvoice.hearing.window import open_ear

    with _LOADING:
        engine = _engine(settings.engine, settings.model, settings.model_folder)
    return open_ear(engine, _vocabulary(register, signals), None)


def hear_running(
    running: Running,
    register: Register,
    settings: Settings,
    store: WindowStore,
    signals: Path | None = None,
) -> None:
    """Hear a recording while it is made; its windows are kept in `store` under its session.

    `signals`: folder of the keeper's own signals.toml.

    Raises:
        ModelError: the speech weights are missing or wrong.
    """
    from fieldvoice.hearing.transcribe import hear

    with _LOADING:
        engine = copy(_engine(settings.engine, settings.model, settings.model_folder))
        second = _second(settings.model, settings.model_folder)
    engine.workers = 1  # the others stay free for signals
    running.longest = engine.window
    vocabulary = _vocabulary(register, signals)
    hear(running, engine=engine, second=second, vocabulary=vocabulary, store=store)


def _vocabulary(register: Register, signals: Path | None) -> Vocabulary:
    """What is expected to be said: of the trade, of the register, and to the recorder."""
    from fieldvoice.hearing.vocabulary import vocabulary_from
    from fieldvoice.listening.wording import load_wording
    from fieldvoice.trade.load import trade_file

    wording = load_wording(signals)
    return replace(
        vocabulary_from(trade_file("speech"), register.labels),
        calls=wording.wake,
        orders=tuple(dict.fromkeys(one for s in wording.signals.values() for one in s.say)),
    )


def extract_drafts(
    transcript: Transcript, recorded_at: datetime, register: Register, settings: Settings
) -> tuple[Entry, ...]:
    """The drafts a transcript gives."""
    from fieldvoice.extraction.extract import extract

    return extract(transcript, recorded_at, register, settings)


def utc_now() -> datetime:
    """The clock, for decisions and stages."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class AddOptions:
    """How recordings are added; the rooms and the clock can be stood in for."""

    settings: Settings = field(default_factory=Settings)
    recorded_at: str | None = None  # ISO; None: asked of the file
    yard: str | None = None  # None: the yard of the settings
    hear: Hear | None = None  # None: hear_recording, which knows the keeper's own signals
    ready: Callable[[Path, Settings], None] = lambda path, settings: None  # told of the next one
    extract: Extract = extract_drafts
    signals: Path | None = None  # folder of the keeper's own signals.toml
    progress: Progress = no_progress
    clock: Clock = utc_now


def find_sound(path: Path) -> tuple[Path, ...]:
    """The file itself, or the recordings in a folder and those below it, by their endings.

    Raises:
        RecordingError: there is no recording in the folder.
    """
    from fieldvoice.hearing.decode import SUFFIXES

    if not path.is_dir():
        return (path,)
    found = sorted(p for p in path.rglob("*") if p.suffix.lower() in SUFFIXES and p.is_file())
    if not found:
        raise RecordingError(
            f"There is no recording in the folder {path} (looked for {' '.join(SUFFIXES)})."
        )
    return tuple(found)


def add_recordings(
    logbook: Path,
    paths: Iterable[Path],
    options: AddOptions,
    tell: Callable[[Added], None] = lambda added: None,
) -> tuple[Added, ...]:
    """Put recordings (files or folders) into the logbook; `tell` hears of each when it is done.

    What cannot be read does not stop the others. A recording that another process is
    adding is left to it and looked at again at the end.

    Raises:
        InputError: the time of recording cannot be used.
        LogbookError: the logbook cannot be written.
    """
    if options.recorded_at is not None:
        from fieldvoice.hearing.moment import recorded_at

        recorded_at(Path(), options.recorded_at)  # refused before anything is heard
    options = replace(options, signals=options.signals or logbook.parent)
    done: list[Added] = []
    files: dict[Path, Path] = {}  # where it really is -> as it was named
    for path in paths:
        try:
            files |= {file.resolve(): file for file in find_sound(path)}
        except RecordingError as error:
            done.append(Added(path, "failed", problem=str(error)))
            tell(done[-1])
    with open_logbook(logbook, create=True) as opened, _nothing_left_ready():
        for added in _add_all(logbook, opened, tuple(files.values()), options):
            done.append(added)
            tell(added)
        forget_windows(opened, options.clock() - timedelta(days=int(options.settings.window_days)))
    return tuple(done)


def _add_all(
    logbook: Path,
    opened: Logbook,
    paths: tuple[Path, ...],
    options: AddOptions,
) -> Iterator[Added]:
    """One recording after another; while one is heard, the next is made ready."""
    from fieldvoice.hearing.several import Several

    several = Several(paths, options.progress)
    waiting = [(path, False) for path in paths]
    while waiting:
        path, wait = waiting.pop(0)
        if waiting:
            _make_ready(opened, waiting[0][0], options)
        theirs = replace(options, progress=several.progress(path))
        try:
            added = _add_one(logbook, opened, path, theirs, wait=wait)
        except RecordingError as error:
            added = Added(path, "failed", problem=str(error))
        if added is None:
            waiting.append((path, True))
        else:
            several.through(path, heard=added.outcome == "added")
            yield added


def _make_ready(opened: Logbook, path: Path, options: AddOptions) -> None:
    """Decode ahead what is not known yet; what is wrong with a file is told at its turn."""
    from fieldvoice.hearing.decode import sound_hash

    try:
        if find_recording(opened, sound_hash(path)) is None:
            options.ready(path, options.settings)
    except RecordingError:
        return


@contextmanager
def _nothing_left_ready() -> Iterator[None]:
    """Whatever stops the work, no thread goes on decoding for it."""
    try:
        yield
    finally:
        while _READY:
            _READY.popitem()[1].close()


def _add_one(
    logbook: Path, opened: Logbook, path: Path, options: AddOptions, *, wait: bool
) -> Added | None:
    """Bring one recording as far as it goes; None if another process has it in hand."""
    from fieldvoice.hearing.decode import sound_hash

    sha256 = sound_hash(path)
    with claim(logbook, sha256, wait=wait) as mine:
        if not mine:
            return None
        before = find_recording(opened, sha256)
        recording = before or _heard(opened, path, sha256, options)
        outcome: Literal["added", "finished", "known"] = "added"
        if before:
            outcome = "finished" if before.stage == "heard" else "known"
            if not Path(before.path).exists():
                keep_path(opened, before.uuid, str(path.resolve()))
        drafts = _drafted(opened, recording, options)
        return Added(path, outcome, recording, drafts, len(unheard_of(opened, recording.uuid)))


def _heard(opened: Logbook, path: Path, sha256: str, options: AddOptions) -> Recording:
    from fieldvoice.hearing.moment import recorded_at
    from fieldvoice.listening.notes import known_in, session_of

    recorded = recorded_at(path, options.recorded_at)
    yard = options.yard or _yard_before(opened, recorded) or options.settings.yard
    register = read_register(opened, yard)
    hear = options.hear or partial(hear_recording, signals=options.signals)
    transcript = hear(path, register, options.settings, Windows(opened), options.progress)
    transcript = _with_signals(transcript, known_in(path), options.signals)
    recording = Recording(
        uuid=new_uuid(),
        sha256=sha256,
        path=str(path.resolve()),
        recorded=recorded,
        yard=yard,
        duration=transcript.duration,
        stage="heard",
    )
    return keep_heard(opened, recording, transcript, options.clock(), session_of(path))


@dataclass(slots=True)
class Growing:
    """A recording that is being made: where it will be, and how far its rows have come."""

    session: Path  # folder of its pieces
    folder: Path  # where the whole of it will lie
    yard: str
    drafted_to: float = 0.0  # seconds


def draft_so_far(
    opened: Logbook, growing: Growing, transcript: Transcript, options: AddOptions
) -> int | None:
    """Put the rows of what is settled by now into the logbook, as drafts.

    They are made anew each time and once more when the recording is whole; what was decided
    on stays. Returns how many there are; None: too little has come since the last time.
    """
    from fieldvoice.listening.recover import begun_in, known_so_far, recording_path
    from fieldvoice.listening.running import settled

    transcript = _with_signals(transcript, known_so_far(growing.session), options.signals)
    until = settled(transcript)
    if until < growing.drafted_to + max(_STEP, _SHARE * growing.drafted_to):
        return None
    begun = begun_in(growing.session)
    recording = Recording(
        uuid=new_uuid(),
        sha256=growing_hash(begun.session),
        path=str(recording_path(begun, growing.folder).resolve()),
        recorded=RecordedAt(begun.moment, "container"),
        yard=growing.yard,
        duration=transcript.duration,
        stage="heard",
    )
    # What was not understood is told at the end, when it can be listened to.
    heard = replace(transcript, unheard=())
    recording = keep_heard(opened, recording, heard, options.clock(), begun.session)
    entries = _entries(opened, recording, options)
    entries = tuple(e for e in entries if e.start is not None and e.start < until)
    growing.drafted_to = until
    return _kept(opened, recording, entries, options)


def _drafted(opened: Logbook, recording: Recording, options: AddOptions) -> int:
    entries: tuple[Entry, ...] = ()
    if recording.stage == "heard":
        options.progress("extract", 0, 1)
        entries = _entries(opened, recording, options)
        options.progress("extract", 1, 1)
    return _kept(opened, recording, entries, options)


def _kept(
    opened: Logbook, recording: Recording, entries: tuple[Entry, ...], options: AddOptions
) -> int:
    number = keep_drafts(opened, recording.uuid, entries, options.clock())
    _take_back(opened, recording, options)
    return number


def _entries(opened: Logbook, recording: Recording, options: AddOptions) -> tuple[Entry, ...]:
    """The drafts of a recording: signals have their effect, an open hive carries over a cut."""
    from fieldvoice.listening.carrying import flag_carried, opened_before
    from fieldvoice.listening.effects import with_effects, without_signals
    from fieldvoice.listening.wording import load_wording

    register = replace(read_register(opened, recording.yard), respellings=in_use(learnt(opened)))
    whole = transcript_of(opened, recording.uuid)
    heard = without_signals(whole, load_wording(options.signals)) if whole.signals else whole

    def drafts(transcript: Transcript) -> tuple[Entry, ...]:
        return options.extract(transcript, recording.recorded.at, register, options.settings)

    entries = drafts(heard)
    before = _recording_before(opened, recording.recorded, recording.yard)
    hive = last_hive(opened, before.uuid) if before else None
    if hive is not None:
        words = hive if " " in hive else f"Hive {hive}"
        entries = flag_carried(entries, drafts(opened_before(heard, f"{words}.")))
    return with_effects(entries, whole, register.labels) if whole.signals else entries


def _with_signals(
    transcript: Transcript, known: tuple[Signal, ...], folder: Path | None
) -> Transcript:
    """What was said to the recorder itself, and what it answered.

    It is found in the transcript; `known` is what was understood as the recording was made.
    """
    from fieldvoice.listening.known import with_known
    from fieldvoice.listening.signals import find_signals
    from fieldvoice.listening.wording import load_wording

    words = [word for segment in transcript.segments for word in segment.words]
    signals = with_known(find_signals(words, load_wording(folder)), known, words)
    return replace(transcript, signals=signals) if signals else transcript


def _take_back(opened: Logbook, recording: Recording, options: AddOptions) -> None:
    """Rows that were taken back aloud are rejected, as the keeper's own decision."""
    from fieldvoice.listening.effects import SCRATCHED
    from fieldvoice.review.decisions import reject

    rows = [d for d in waiting_drafts(opened, recording.uuid) if SCRATCHED in d.entry.flags]
    rows = [d for d in rows if d.version == 1]  # else it was decided on since
    if rows:
        save_step(opened, reject(rows, options.clock()))


def _recording_before(opened: Logbook, recorded: RecordedAt, yard: str | None) -> Recording | None:
    if recorded.source == "file time":  # often that of its end
        return None
    return recording_before(opened, recorded.at, yard)


def _yard_before(opened: Logbook, recorded: RecordedAt) -> str | None:
    before = _recording_before(opened, recorded, None)
    return before.yard if before else None


@cache
def _engine(engine: str, model: str, folder: str) -> Any:
    from fieldvoice.hearing.engines.load import load_engine

    return load_engine(engine, model, folder)


@cache
def _second(model: str, folder: str) -> Any:
    from fieldvoice.hearing.engines.load import load_second

    return load_second(model, folder)
