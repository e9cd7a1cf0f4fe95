"""Rows and logbooks for tests: made by hand, or drawn by hypothesis."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from fieldvoice.logbook.drafts import keep_drafts, waiting_drafts
from fieldvoice.logbook.recordings import keep_heard, new_uuid
from fieldvoice.types import (
    ACTIONS,
    KINDS,
    ROLES,
    STATUSES,
    Because,
    Draft,
    Entry,
    RecordedAt,
    Recording,
    Segment,
    Stretch,
    Transcript,
    Value,
    When,
    Word,
)

SUMMER = timezone(timedelta(hours=2))
MAY = datetime(2026, 5, 3, 9, 30, tzinfo=SUMMER)

SYRUP = Entry(
    "7", "feed", "give", "syrup", "done",
    values=(Value("amount", 2, 2, "quart", said="two quarts"),
            Value("ratio", 2, 2, "sugar:water", said="two to one")),
    quote="gave her two quarts of two to one", start=12.5, end=15.25, confidence=0.97,
)  # fmt: skip
EGGS = Entry(
    "8", "brood", "see", "egg", "absent",
    quote="no eggs in eight", start=30.0, end=31.5, confidence=0.55, flags=("heard-unsurely",),
)  # fmt: skip
HEARD = Transcript(
    "gave her two quarts of two to one", "en", "test", "test", 40.0,
    segments=(Segment(12.5, 15.25, "gave her", (Word("gave", 12.5, 12.7, 0.9),
                                                Word("her", 12.8, 13.0, 0.8))),),
    unheard=(Stretch(33.0, 35.5),),
)  # fmt: skip


def recording(number: int = 1, at: datetime = MAY, yard: str = "home") -> Recording:
    return Recording(
        new_uuid(), f"{number:064x}", f"/recorder/{number}.ogg", RecordedAt(at, "option"),
        yard, 40.0, "heard",
    )  # fmt: skip


def drafted(
    logbook: Any,
    entries: Sequence[Entry],
    number: int = 1,
    at: datetime = MAY,
    yard: str = "home",
) -> tuple[Draft, ...]:
    """A recording with these drafts in the logbook; the drafts as they wait."""
    made = keep_heard(logbook, recording(number, at, yard), HEARD, at)
    keep_drafts(logbook, made.uuid, entries, at)
    return waiting_drafts(logbook, made.uuid)


def words_of(path: Path, sql: str) -> list[Any]:
    """Rows of a query on the file, by another connection."""
    import sqlite3

    with sqlite3.connect(path) as database:
        rows = database.execute(sql).fetchall()
    database.close()
    return rows


text = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=40)
# SQLite has no minus zero; nobody says it
numbers = st.floats(allow_nan=False, allow_infinity=False).map(lambda x: x + 0.0)
labels = st.sampled_from(["7", "A3", "nuc 2", "blue", "all", None])
days = st.dates(date(1, 1, 1), date(9999, 12, 31))


@st.composite
def values(draw: st.DrawFn) -> Value:
    low, high = sorted((draw(numbers), draw(numbers)))
    return Value(
        draw(st.sampled_from(ROLES)), low, high, draw(st.none() | text), draw(st.booleans()),
        draw(text),
    )  # fmt: skip


@st.composite
def whens(draw: st.DrawFn) -> When:
    first, last = sorted((draw(days), draw(days)))
    return draw(st.sampled_from([When(first, last), When(first, None), When(None, last)]))


entries = st.builds(
    Entry,
    hive=labels,
    kind=st.sampled_from(KINDS),
    action=st.sampled_from(ACTIONS),
    item=text,
    status=st.sampled_from(STATUSES),
    values=st.lists(values(), max_size=3).map(tuple),
    when=st.none() | whens(),
    details=st.dictionaries(text, text, max_size=3),
    quote=text,
    start=st.none() | numbers,
    end=st.none() | numbers,
    confidence=st.floats(0, 1),
    flags=st.lists(text, max_size=3).map(tuple),
    because=st.lists(st.builds(Because, text, text, text, st.none() | numbers), max_size=2).map(
        tuple
    ),
)
