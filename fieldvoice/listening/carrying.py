"""A recording that goes on where another one ended: what was spoken of then still is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.types import Entry, Segment, Transcript, Word

FLAG = "hive-assumed"


def opened_before(transcript: Transcript, words: str) -> Transcript:
    """The transcript as if `words` ("Hive 7.") had been said just before it began."""
    said = tuple(Word(word, 0.0, 0.0, 1.0) for word in words.split())
    first = Segment(0.0, 0.0, words, said)
    return replace(
        transcript,
        text=f"{words} {transcript.text}".strip(),
        segments=(first, *transcript.segments),
    )


def flag_carried(alone: Sequence[Entry], carried: Sequence[Entry]) -> tuple[Entry, ...]:
    """The `carried` drafts; those that would not have their hive `alone` are flagged."""
    own = {(row.start, row.kind, row.item, row.hive) for row in alone}
    return tuple(
        row
        if row.hive is None or FLAG in row.flags or (row.start, row.kind, row.item, row.hive) in own
        else replace(row, flags=(*row.flags, FLAG))
        for row in carried
        if row.end is None or row.end > 0.0  # made of nothing but the words before
    )
