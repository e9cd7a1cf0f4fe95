"""Drafts made anew from the same recording: what was decided stays, the rest gives way.

A recording that is still being made is read again and again; each reading knows more of
what was said later. No fact is then there twice, and no row that a person has touched
changes or goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldvoice.types import Entry


@dataclass(frozen=True, slots=True)
class Known:
    """A draft of an earlier reading, as it was drafted."""

    uuid: str
    entry: Entry
    decided: bool  # whether anybody has decided on it, whatever became of that


def renewed(
    known: Sequence[Known], entries: Sequence[Entry]
) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Which of `entries` are new rows, and the uuids of drafts that no reading gives any more."""
    left = list(entries)
    gone: list[str] = []
    open_: list[Known] = []
    for draft in sorted(known, key=lambda draft: not draft.decided):
        if draft.entry in left:
            left.remove(draft.entry)
        elif draft.decided:
            open_.append(draft)
        else:
            gone.append(draft.uuid)
    for strictly in (True, False):
        for draft in list(open_):
            same = next((e for e in left if _same(e, draft.entry, strictly=strictly)), None)
            if same is not None:
                left.remove(same)
                open_.remove(draft)
    return tuple(left), tuple(gone)


def _same(one: Entry, other: Entry, *, strictly: bool) -> bool:
    """Whether two readings of the same words are one fact; `strictly`: on the same hive too."""
    if (one.kind, one.item) != (other.kind, other.item) or (strictly and one.hive != other.hive):
        return False
    if one.start is None or one.end is None or other.start is None or other.end is None:
        return one.quote == other.quote
    return one.start < other.end and other.start < one.end
