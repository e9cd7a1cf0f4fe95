"""Every decision a keeper can take on drafts, as plain functions: drafts in, one step out.

A step holds each draft before and after it. The logbook keeps steps; nothing here
writes anything, so that the terminal and the page decide by the same rules.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Literal

from fieldvoice.errors import InputError, StaleError
from fieldvoice.types import (
    ACTIONS,
    KINDS,
    ROLES,
    STATUSES,
    Change,
    Draft,
    DraftState,
    Entry,
    Step,
)

ABOUT: Mapping[str, str] = {
    "hive-unknown": "hive", "hive-assumed": "hive", "unsure-hive": "hive",
    "unsure-number": "values", "out-of-range": "values", "unit-assumed": "values",
    "ratio-order": "values", "corrected": "values",
    "unsure-date": "when", "date-unsure": "when",
    "unsure-status": "status", "unsure-item": "item", "unsure-kind": "kind",
    "unsure-action": "action", "respelled": "quote", "heard-unsurely": "quote",
}  # fmt: skip
"""The field that a flag is about; what is not here is about the row as a whole."""


def check_fresh(draft: Draft, seen_version: int) -> None:
    """Refuse a decision on a draft that is no longer as it was shown.

    Raises:
        StaleError: it has another version by now.
    """
    if draft.version != seen_version:
        raise StaleError(
            f'The row "{draft.entry.quote}" was changed elsewhere in the meantime; '
            "look at it again and decide anew."
        )


def confirm(drafts: Sequence[Draft], at: datetime) -> Step:
    """The drafts become rows of the log."""
    _need_state(drafts, ("waiting", "rejected"), "confirm")
    return _step("confirm", [_to(draft, state="confirmed") for draft in drafts], at)


def reject(drafts: Sequence[Draft], at: datetime) -> Step:
    """The drafts are no rows of the log, and not again either."""
    _need_state(drafts, ("waiting", "confirmed"), "reject")
    return _step("reject", [_to(draft, state="rejected") for draft in drafts], at)


def edit(draft: Draft, entry: Entry, at: datetime) -> Step:
    """The draft's row as the keeper wants it; a confirmed one is changed in the log too.

    Raises:
        InputError: a field holds what no row of the log may hold.
    """
    _need_state([draft], ("waiting", "confirmed"), "edit")
    check_entry(entry)
    return _step("edit", [_to(draft, entry=entry)], at)


def assign(drafts: Sequence[Draft], hive: str | None, at: datetime) -> Step:
    """The drafts belong to this hive; doubts about their hive are settled by that."""
    _need_state(drafts, ("waiting", "confirmed"), "give to another hive")
    changes = []
    for draft in drafts:
        entry = with_hive(draft.entry, hive)
        check_entry(entry)
        changes.append(_to(draft, entry=entry))
    return _step("edit", changes, at)


def with_hive(entry: Entry, hive: str | None) -> Entry:
    """The entry on a hive that a person named: its hive is in doubt no more."""
    return settled(replace(entry, hive=hive), ["hive"])


def settled(entry: Entry, fields: Collection[str]) -> Entry:
    """The entry without its doubts about fields that a person has decided."""
    flags = tuple(flag for flag in entry.flags if ABOUT.get(flag) not in fields)
    return replace(entry, flags=flags)


def split(draft: Draft, entries: Sequence[Entry], at: datetime) -> Step:
    """One draft becomes several, each to be decided on."""
    _need_state([draft], ("waiting",), "split")
    if len(entries) < 2:
        raise InputError("A row is split into two or more.")
    changes = [_to(draft, state="split")]
    for entry in entries:
        check_entry(entry)
        child = Draft(str(uuid.uuid4()), draft.recording, 1, "waiting", entry, draft.uuid)
        changes.append(Change(None, child))
    return _step("split", changes, at)


def merge(drafts: Sequence[Draft], at: datetime) -> Step:
    """Several rows about one thing become one: the first, with all that the others have more.

    Raises:
        InputError: they are of several hives or recordings, or of several kinds of fact.
    """
    _need_state(drafts, ("waiting",), "merge")
    if len(drafts) < 2:
        raise InputError("Two or more rows are merged into one.")
    if len({(d.recording, d.entry.hive, d.entry.kind) for d in drafts}) > 1:
        raise InputError("Only rows of one hive and one kind can be merged; change them first.")
    rows = [draft.entry for draft in drafts]
    merged = replace(
        rows[0],
        values=tuple(dict.fromkeys(value for row in rows for value in row.values)),
        when=next((row.when for row in rows if row.when), None),
        details={name: text for row in reversed(rows) for name, text in row.details.items()},
        quote=" … ".join(dict.fromkeys(row.quote for row in rows if row.quote)),
        start=min((row.start for row in rows if row.start is not None), default=None),
        end=max((row.end for row in rows if row.end is not None), default=None),
        confidence=min(row.confidence for row in rows),
        flags=tuple(dict.fromkeys(flag for row in rows for flag in row.flags)),
    )
    check_entry(merged)
    gone = [_to(draft, state="withdrawn") for draft in drafts[1:]]
    return _step("edit", [_to(drafts[0], entry=merged), *gone], at)


def write(recording: str, entry: Entry, at: datetime) -> Step:
    """A row the tool missed, written by the keeper; it waits like any other draft."""
    check_entry(entry)
    child = Draft(str(uuid.uuid4()), recording, 1, "waiting", entry)
    return _step("write", [Change(None, child)], at)


def undo(step: Step, now: Mapping[str, Draft], at: datetime) -> Step:
    """Take a step back: its drafts are again what they were before it.

    Versions go on counting, and the history keeps both steps. Undoing an undo does
    the step again. `now` holds the drafts of the step as they are.

    Raises:
        StaleError: a later decision touched one of the drafts; undo that one first.
    """
    changes = []
    for change in step.changes:
        current = now[change.after.uuid]
        # Not by version: what was undone since has left the draft as this step made it.
        if (current.state, current.entry) != (change.after.state, change.after.entry):
            raise StaleError(
                f'The row "{current.entry.quote}" was decided on again after that; '
                "undo the later decision first."
            )
        if change.before is None:
            changes.append(_to(current, state="withdrawn"))
        else:
            changes.append(_to(current, state=change.before.state, entry=change.before.entry))
    return replace(_step("undo", changes, at), undoes=step.uuid)


def next_to_undo(steps: Iterable[Step]) -> Step | None:
    """The latest step that still stands, of steps newest first; None if there is none."""
    undone: set[str | None] = set()
    for step in steps:
        if step.uuid in undone:
            continue  # an undo that was itself undone takes nothing back
        if step.decision != "undo":
            return step
        undone.add(step.undoes)
    return None


def check_entry(entry: Entry) -> None:
    """Refuse an entry that the log cannot hold.

    Raises:
        InputError: all that is wrong with it, each with the words that are allowed.
    """
    problems = []
    for name, word, allowed in (
        ("kind", entry.kind, KINDS),
        ("action", entry.action, ACTIONS),
        ("status", entry.status, STATUSES),
        *(("role", value.role, ROLES) for value in entry.values),
    ):
        if word not in allowed:
            problems.append(f"{name} {word!r} is not one of {', '.join(allowed)}")
    if entry.hive is not None and not entry.hive.strip():
        problems.append("the hive's label is empty")
    if not entry.item.strip():
        problems.append("the item is empty")
    for value in entry.values:
        if not value.lo <= value.hi:
            problems.append(f"{value.role}: {value.lo:g} to {value.hi:g} runs backwards")
    if entry.when and entry.when.from_ and entry.when.to and entry.when.from_ > entry.when.to:
        problems.append(f"{entry.when.from_} to {entry.when.to} runs backwards")
    if problems:
        raise InputError(f"The row cannot be kept: {'; '.join(problems)}.")


def _to(draft: Draft, *, state: DraftState | None = None, entry: Entry | None = None) -> Change:
    after = replace(
        draft,
        version=draft.version + 1,
        state=state or draft.state,
        entry=entry or draft.entry,
    )
    return Change(draft, after)


def _step(
    decision: Literal["confirm", "edit", "reject", "split", "write", "undo"],
    changes: Sequence[Change],
    at: datetime,
) -> Step:
    if not changes:
        raise InputError(f"There is no row to {decision}.")
    return Step(str(uuid.uuid4()), at, decision, tuple(changes))


def _need_state(drafts: Sequence[Draft], allowed: Sequence[DraftState], what: str) -> None:
    for draft in drafts:
        if draft.state not in allowed:
            raise InputError(
                f'The row "{draft.entry.quote}" is {draft.state} and cannot be taken to '
                f"{what}; undo that decision first."
            )
