"""The whole way of a recording, in the order of the rooms.

hash -> known? -> hear -> kept ("heard") -> extract -> kept ("drafted"). Each stage is
kept in one transaction, so whatever stops the way, the next run goes on from the last
finished stage; hearing itself goes on from the last finished window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from fieldvoice.errors import RecordingError
from fieldvoice.logbook.claims import claim
from fieldvoice.logbook.drafts import keep_drafts
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.logbook.recordings import (
    find_recording,
    keep_heard,
    keep_path,
    new_uuid,
    transcript_of,
    unheard_of,
)
from fieldvoice.logbook.register import read_register
from fieldvoice.logbook.windows import Windows
from fieldvoice.review.learning import in_use, learnt
from fieldvoice.settings import Settings
from fieldvoice.types import (
    Clock,
    Entry,
    Progress,
    Recording,
    Register,
    Transcript,
    no_progress,
)

if TYPE_CHECKING:
    from fieldvoice.hearing.store import WindowStore

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


def hear_recording(
    path: Path, register: Register, settings: Settings, store: WindowStore, progress: Progress
) -> Transcript:
    """Hear a recording with the engine and model of the settings, loaded once.

    Raises:
        RecordingError: the file is no recording.
        ModelError: the speech weights are missing or wrong.
    """
    from fieldvoice.hearing.transcribe import hear
    from fieldvoice.hearing.vocabulary import vocabulary_from
    from fieldvoice.trade.load import trade_file

    return hear(
        path,
        engine=_engine(settings.engine, settings.model, settings.model_folder),
        second=_second(settings.model, settings.model_folder),
        vocabulary=vocabulary_from(trade_file("speech"), register.labels),
        store=store,
        progress=progress,
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
    hear: Hear = hear_recording
    extract: Extract = extract_drafts
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
    done: list[Added] = []
    files: dict[Path, Path] = {}  # where it really is -> as it was named
    for path in paths:
        try:
            files |= {file.resolve(): file for file in find_sound(path)}
        except RecordingError as error:
            done.append(Added(path, "failed", problem=str(error)))
            tell(done[-1])
    with open_logbook(logbook, create=True) as opened:
        waiting = [(path, False) for path in files.values()]
        while waiting:
            path, wait = waiting.pop(0)
            try:
                added = _add_one(logbook, opened, path, options, wait=wait)
            except RecordingError as error:
                added = Added(path, "failed", problem=str(error))
            if added is None:
                waiting.append((path, True))
            else:
                done.append(added)
                tell(added)
    return tuple(done)


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

    recorded = recorded_at(path, options.recorded_at)
    yard = options.yard or options.settings.yard
    register = read_register(opened, yard)
    transcript = options.hear(path, register, options.settings, Windows(opened), options.progress)
    recording = Recording(
        uuid=new_uuid(),
        sha256=sha256,
        path=str(path.resolve()),
        recorded=recorded,
        yard=yard,
        duration=transcript.duration,
        stage="heard",
    )
    return keep_heard(opened, recording, transcript, options.clock())


def _drafted(opened: Logbook, recording: Recording, options: AddOptions) -> int:
    entries: tuple[Entry, ...] = ()
    if recording.stage == "heard":
        options.progress("extract", 0, 1)
        entries = options.extract(
            transcript_of(opened, recording.uuid),
            recording.recorded.at,
            replace(read_register(opened, recording.yard), respellings=in_use(learnt(opened))),
            options.settings,
        )
        options.progress("extract", 1, 1)
    return keep_drafts(opened, recording.uuid, entries, options.clock())


@cache
def _engine(engine: str, model: str, folder: str) -> Any:
    from fieldvoice.hearing.engines.load import load_engine

    return load_engine(engine, model, folder)


@cache
def _second(model: str, folder: str) -> Any:
    from fieldvoice.hearing.engines.load import load_second

    return load_second(model, folder)
