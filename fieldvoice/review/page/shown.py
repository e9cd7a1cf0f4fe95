"""Recordings, rows and words as the templates show them: plain data, nothing to look up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fieldvoice.logbook.drafts import drafts_of, steps
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.recordings import get_recording, unheard_of
from fieldvoice.logbook.register import read_register
from fieldvoice.plain import clock, hive_name
from fieldvoice.review.decisions import next_to_undo
from fieldvoice.review.page.wording import became, facts, reasons
from fieldvoice.review.queue import open_flags, unflagged
from fieldvoice.types import Draft, Recording, Register, Stretch, Transcript

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


@dataclass(frozen=True, slots=True)
class Group:
    """The rows of one hive, in the order they were said."""

    hive: str
    name: str
    rows: Sequence[Row]


@dataclass(frozen=True, slots=True)
class Piece:
    """A word of the transcript with its place in the sound."""

    word: str
    start: float
    end: float
    doubted: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One stretch of the transcript."""

    at: str
    start: float
    end: float
    pieces: Sequence[Piece]
    unheard: bool = False  # speech that gave no words


@dataclass(frozen=True, slots=True)
class Board:
    """All rows of one recording."""

    recording: Recording
    missing: bool  # the sound file is not where it was
    groups: Sequence[Group]


def board_of(logbook: Logbook, recording_id: str, transcript: Transcript) -> Board:
    """The rows of a recording, grouped by hive in the order the hives were spoken of.

    Raises:
        InputError: there is no such recording.
    """
    recording = get_recording(logbook, recording_id)
    register = read_register(logbook, recording.yard)
    drafts = drafts_of(logbook, recording_id)
    rows = rows_of(drafts, register, transcript)
    names: dict[str, list[Row]] = {}
    for row in rows:
        names.setdefault(row.hive, []).append(row)
    return Board(
        recording,
        not Path(recording.path).is_file(),
        [Group(hive, hive_name(hive or None).capitalize(), mine) for hive, mine in names.items()],
    )


def rows_of(drafts: Sequence[Draft], register: Register, transcript: Transcript) -> tuple[Row, ...]:
    """Drafts as rows; a row that waits and may not be confirmed unseen says why."""
    plain = {draft.uuid for draft in unflagged(drafts, register)}
    return tuple(_row(draft, draft.uuid in plain, register, transcript) for draft in drafts)


def _row(draft: Draft, plain: bool, register: Register, transcript: Transcript) -> Row:  # noqa: FBT001
    entry = draft.entry
    doubtful = not plain and draft.state == "waiting"
    why = [] if not doubtful else reasons(entry, open_flags(draft, register), transcript)
    if doubtful and not why:
        why = [f"hive {entry.hive} is not in the register"]
    return Row(
        draft.uuid, draft.version, draft.state, entry.hive or "", entry.kind, entry.item,
        became(entry), facts(entry), entry.quote, clock(entry.start), entry.start, entry.end, why,
    )  # fmt: skip


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
    lines = [
        Line(
            clock(segment.start), segment.start, segment.end,
            [Piece(w.word.strip(), w.start, w.end, w.probability < DOUBTED) for w in segment.words]
            or [Piece(segment.text.strip(), segment.start, segment.end, False)],  # noqa: FBT003
        )
        for segment in transcript.segments
    ]  # fmt: skip
    lines += [_silent(stretch) for stretch in unheard_of(logbook, recording_id)]
    return tuple(sorted(lines, key=lambda line: line.start))


def _silent(stretch: Stretch) -> Line:
    return Line(clock(stretch.start), stretch.start, stretch.end, (), unheard=True)
