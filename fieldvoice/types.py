"""Every object that passes between the rooms, in the order a recording meets them.

All are frozen. Times inside a recording are seconds from its start; moments are
aware datetimes; positions in a text are characters, start inclusive, end exclusive.
This module imports nothing heavy: reading a type must not load a model.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal, NamedTuple, Protocol

# --- the register: which hives there are -----------------------------------


@dataclass(frozen=True, slots=True)
class Register:
    """The hives a narration may speak of, in the order the keeper walks them."""

    labels: tuple[str, ...] = ()
    """Labels as the keeper uses them: "7", "A3", "nuc 2"."""
    aliases: Mapping[str, str] = field(default_factory=dict)
    """Other names, lower case, to labels: {"blue one": "7"}."""
    respellings: Mapping[str, str] = field(default_factory=dict)
    """What this keeper's recordings were misheard as, lower case: {"sir up": "syrup"}."""


# --- hearing: recording -> transcript --------------------------------------


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard."""

    word: str
    start: float
    end: float
    probability: float  # 0 to 1, the recogniser's own


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of speech that was decoded as one."""

    start: float
    end: float
    text: str
    words: tuple[Word, ...] = ()


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the recording, in seconds."""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One way a doubtful piece of sound can be read."""

    text: str
    score: float  # natural-log score; only differences mean something


@dataclass(frozen=True, slots=True)
class Doubt:
    """A piece that matters (label, number, ratio, unit) and was heard unsurely."""

    start: float
    end: float
    kind: str  # "label", "number", "ratio", "unit", "word"
    heard: str  # the words in the transcript
    readings: tuple[Reading, ...]  # best first


@dataclass(frozen=True, slots=True)
class Signal:
    """Something said to the recorder itself: "attention logbook, mark this"."""

    name: str  # "open", "note", "scratch", "mark", "read", "stop"
    start: float
    end: float
    until: float  # end of the words that belong to it; `end` if none do
    said: str  # as heard
    rest: str = ""  # the words that belong to it: "7."


@dataclass(frozen=True, slots=True)
class Transcript:
    """All that was heard in one recording."""

    text: str
    language: str
    engine: str
    model: str
    duration: float
    segments: tuple[Segment, ...] = ()
    speech: tuple[Stretch, ...] = ()  # where the voice detector found speech
    unheard: tuple[Stretch, ...] = ()  # speech that gave no trustworthy text
    doubts: tuple[Doubt, ...] = ()
    signals: tuple[Signal, ...] = ()  # their words stand in `text` too


# --- extraction: transcript -> drafts --------------------------------------

Status = Literal["done", "seen", "absent", "planned", "skipped", "past"]

KINDS: tuple[str, ...] = (
    "weather", "forage", "population", "queen", "brood", "stores", "health", "mites",
    "treatment", "feed", "equipment", "colony", "harvest", "supply", "note",
)  # fmt: skip
ACTIONS: tuple[str, ...] = (
    "give", "add", "remove", "replace", "move", "open", "close", "reduce", "repair",
    "clean", "sample", "treat", "split", "combine", "requeen", "mark", "harvest",
    "weigh", "inspect", "get", "see",
)  # fmt: skip
STATUSES: tuple[str, ...] = ("done", "seen", "absent", "planned", "skipped", "past")
ROLES: tuple[str, ...] = (
    "amount", "ratio", "count", "size", "weight", "temperature", "wind", "gust", "age",
    "duration", "sample", "rate", "share", "moisture", "price",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Value:
    """One number of an entry. A single number has lo == hi; a range stays a range."""

    role: str  # one of ROLES
    lo: float
    hi: float
    unit: str | None  # singular English name, or the thing counted; "sugar:water"; "1"
    approx: bool = False
    said: str = ""  # the words


@dataclass(frozen=True, slots=True)
class When:
    """Days an entry speaks of, if not the day of the recording; both inclusive."""

    from_: date | None
    to: date | None


@dataclass(frozen=True, slots=True)
class Because:
    """Why a field of a draft is what it is."""

    field: str
    words: str
    rule: str
    score: float | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One row: a draft until a person has confirmed it, then a row of the log."""

    hive: str | None  # label; None: the yard or the day; "all": every hive of the yard
    kind: str  # one of KINDS
    action: str  # one of ACTIONS
    item: str  # lower-case singular trade noun
    status: str  # one of STATUSES
    values: tuple[Value, ...] = ()
    when: When | None = None
    details: Mapping[str, str] = field(default_factory=dict)
    quote: str = ""
    start: float | None = None  # seconds in the recording
    end: float | None = None
    confidence: float = 0.0  # 0 to 1, calibrated
    flags: tuple[str, ...] = ()
    because: tuple[Because, ...] = ()


# --- logbook ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RecordedAt:
    """When a recording was made, and how that is known."""

    at: datetime  # aware, with the local offset
    source: Literal["option", "container", "file name", "file time"]


@dataclass(frozen=True, slots=True)
class Recording:
    """A recording the logbook knows, by the hash of its bytes."""

    uuid: str
    sha256: str
    path: str  # where it was when it was added
    recorded: RecordedAt
    yard: str
    duration: float  # seconds
    stage: Literal["heard", "drafted"]  # the last one finished


DraftState = Literal["waiting", "confirmed", "rejected", "split", "withdrawn"]


@dataclass(frozen=True, slots=True)
class Draft:
    """One proposed row and what has been decided about it."""

    uuid: str
    recording: str  # uuid of the recording
    version: int  # 1 at first, one more with every decision
    state: DraftState
    entry: Entry
    parent: str | None = None  # uuid of the draft it was split from


@dataclass(frozen=True, slots=True)
class Change:
    """One draft before and after a decision; it did not exist before if None."""

    before: Draft | None
    after: Draft


@dataclass(frozen=True, slots=True)
class Step:
    """One decision of the keeper, over one or more drafts; the history keeps each."""

    uuid: str
    at: datetime
    decision: Literal["confirm", "edit", "reject", "split", "write", "undo"]
    changes: tuple[Change, ...]
    undoes: str | None = None  # uuid of the step it takes back


@dataclass(frozen=True, slots=True)
class LogRow:
    """A confirmed row of the log, with the visit it belongs to."""

    uuid: str  # the same as its draft's
    recording: str  # uuid of the recording
    yard: str
    recorded_at: datetime  # with the local offset
    confirmed_at: datetime
    entry: Entry


class Fact(NamedTuple):
    """A row of the log as answers read it: what was said, where, on which day.

    A tuple and no dataclass: answers make ten thousand of them, and it is made much faster.
    """

    uuid: str
    hive_id: int | None  # the register's; None: "all" or the yard
    hive: str | None
    yard: str
    day: date  # local day of the recording
    kind: str
    action: str
    item: str
    status: str
    values: tuple[Value, ...]
    when: When | None
    details: Mapping[str, str]
    quote: str

    def value(self, role: str, unit: str | None = None) -> Value | None:
        """Its first number of that role (and unit), or None if none was said."""
        for value in self.values:
            if value.role == role and unit in (None, value.unit):
                return value
        return None

    @property
    def on(self) -> date | None:
        """The day it was so: told afterwards without a day, that is not known."""
        if self.status != "past":
            return self.day
        return (self.when.from_ or self.when.to) if self.when else None


# --- progress ---------------------------------------------------------------


class Progress(Protocol):
    """Told how far a stage has come; the command line draws a bar from it."""

    def __call__(self, stage: str, done: float, total: float) -> None:
        """Report `done` of `total` (seconds of sound, or rows) of `stage`."""
        ...


def no_progress(stage: str, done: float, total: float) -> None:
    """Tell nobody."""


Json = dict[str, Any]
Clock = Callable[[], datetime]
