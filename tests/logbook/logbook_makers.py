"""Rows drawn by hypothesis."""

from __future__ import annotations

from datetime import date

from hypothesis import strategies as st

from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES, Because, Entry, Value, When

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
