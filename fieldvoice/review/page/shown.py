"""Recordings, rows and words as the templates show them: plain data, nothing to look up."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import astuple, dataclass, replace
from pathlib import Path

from fieldvoice.logbook.drafts import drafts_of, steps
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.recordings import get_recording, unheard_of
from fieldvoice.logbook.register import read_register
from fieldvoice.plain import clock, hive_name
from fieldvoice.review.decisions import ABOUT, next_to_undo
from fieldvoice.review.offers import (
    Nearby,
    Numbers,
    doubts_of,
    hive_keys,
    offers_of,
)
from fieldvoice.review.page.wording import became, facts, reasons
from fieldvoice.review.queue import open_flags, unflagged
from fieldvoice.types import Draft, Recording, Register, Segment, Stretch, Transcript

DOUBTED = 0.35
"""A word below this probability is marked in the transcript."""


@dataclass(frozen=True, slots=True)
class Row:
    """A draft as one row of the page."""

    id: str
    version: int
    state: str
    hive: str  # the label; "" for the yard
    kind: str
    item: str
    became: str
    facts: Sequence[str]
    quote: str
    at: str  # "2:10"; "" if it is not known
    start: float | None
    end: float | None
    reasons: Sequence[str]  # why to look; empty: may be confirmed unseen
    hives: Sequence[tuple[str, str]] = ()  # key and label: its own first, then the nearest
    offers: Sequence[tuple[object, ...]] = ()  # each Offer: key, words, fields
    asks: Sequence[str] = ()  # the fields to look at before the row is confirmed by a choice


@dataclass(frozen=True, slots=True)
class Group:
    """The rows of one hive, in the order they were said."""

    hive: str
    name: str
    rows: Sequence[Row]


@dataclass(frozen=True, slots=True)
class Line:
    """One stretch of the transcript; the page makes its words from this, which is much shorter."""

    at: str
    start: float
    end: float
    text: str = ""  # the words, one space between
    places: str = ""  # start and end of each word, in seconds; "": the line is one piece
    doubted: str = ""  # the numbers of the words that were not heard surely, from 0
    unheard: bool = False  # speech that gave no words


@dataclass(frozen=True, slots=True)
class Board:
    """All rows of one recording."""

    recording: Recording
    missing: bool  # the sound file is not where it was
    groups: Sequence[Group]


def board_of(
    logbook: Logbook, recording_id: str, transcript: Transcript, numbers: Numbers
) -> Board:
    """The rows of a recording, grouped by hive in the order the hives were spoken of.

    Raises:
        InputError: there is no such recording.
    """
    recording = get_recording(logbook, recording_id)
    register = read_register(logbook, recording.yard)
    rows = Rows(drafts_of(logbook, recording_id), register, transcript, numbers).all()
    names: dict[str, list[Row]] = {}
    for row in rows:
        names.setdefault(row.hive, []).append(row)
    return Board(
        recording,
        not Path(recording.path).is_file(),
        [Group(hive, hive_name(hive or None).capitalize(), mine) for hive, mine in names.items()],
    )


class Rows:
    """The drafts of one recording as rows; one that waits says why, and what else it may be."""

    def __init__(
        self,
        drafts: Sequence[Draft],
        register: Register,
        transcript: Transcript,
        numbers: Numbers,
    ) -> None:
        self._drafts = drafts
        self._register = register
        self._transcript = transcript
        self._numbers = numbers
        self._plain = {draft.uuid for draft in unflagged(drafts, register)}
        self._nearby = Nearby(drafts, register)

    def all(self) -> tuple[Row, ...]:
        """Every row, in the order it was said."""
        return tuple(map(self._row, self._drafts))

    def some(self, uuids: Collection[str]) -> tuple[Row, ...]:
        """These rows alone."""
        return tuple(self._row(draft) for draft in self._drafts if draft.uuid in uuids)

    def _row(self, draft: Draft) -> Row:
        entry = draft.entry
        shown = Row(
            draft.uuid, draft.version, draft.state, entry.hive or "", entry.kind, entry.item,
            became(entry), facts(entry), entry.quote, clock(entry.start), entry.start, entry.end, (),
        )  # fmt: skip
        if draft.state != "waiting":
            return shown
        keys = hive_keys(self._nearby.hives(entry))
        shown = replace(shown, hives=[(key, label) for label, key in keys.items()])
        if draft.uuid in self._plain:
            return shown
        flags = open_flags(draft, self._register)
        why = reasons(entry, flags, self._transcript)
        doubts = doubts_of(entry, self._transcript.doubts)
        found = offers_of(entry, flags, doubts, self._numbers, keys)
        # A doubtful number or day is looked at, and so is a row whose words were misheard.
        offered = {"hive", "values", "when", "quote"}.union(*(offer.fields for offer in found))
        return replace(
            shown,
            reasons=why or [f"hive {entry.hive} is not in the register"],
            offers=[astuple(offer) for offer in found],
            asks=sorted(offered & {ABOUT.get(flag, "") for flag in flags}) or ["hive"][bool(why) :],
        )


def undo_text(logbook: Logbook, recording_id: str) -> str:
    """What "undo" would take back on this recording."""
    step = next_to_undo(steps(logbook, recording_id))
    if step is None:
        return ""
    first = step.changes[0].after.entry
    more = f" and {len(step.changes) - 1} more" if len(step.changes) > 1 else ""
    return f'{step.decision} "{first.quote or first.item}"{more}'


def lines_of(logbook: Logbook, recording_id: str, transcript: Transcript) -> tuple[Line, ...]:
    """The transcript in stretches, speech without words among them, in the order of time."""
    lines = [_line(segment) for segment in transcript.segments]
    lines += [_silent(stretch) for stretch in unheard_of(logbook, recording_id)]
    return tuple(sorted(lines, key=lambda line: line.start))


def _line(segment: Segment) -> Line:
    words = [word for word in segment.words if word.word.strip()]
    at = clock(segment.start)
    if not words:
        return Line(at, segment.start, segment.end, segment.text.strip())
    return Line(
        at,
        segment.start,
        segment.end,
        " ".join("\u00a0".join(word.word.split()) for word in words),
        " ".join(f"{word.start:.2f} {word.end:.2f}" for word in words),
        " ".join(str(n) for n, word in enumerate(words) if word.probability < DOUBTED),
    )


def _silent(stretch: Stretch) -> Line:
    return Line(clock(stretch.start), stretch.start, stretch.end, unheard=True)
