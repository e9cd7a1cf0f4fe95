"""Rows in one line, as a keeper reads them."""

from __future__ import annotations

import doctest
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

import fieldvoice.logbook.moments
import fieldvoice.plain
import fieldvoice.review.fields
import fieldvoice.review.queue
from fieldvoice.plain import clock, entry_line, value_text, when_text
from fieldvoice.types import Entry, Value, When


@pytest.mark.parametrize(
    "module",
    [
        fieldvoice.plain,
        fieldvoice.logbook.moments,
        fieldvoice.review.fields,
        fieldvoice.review.queue,
    ],
)
def test_the_examples_in_the_code_are_true(module: object) -> None:
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Value("amount", 2, 2, "quart"), "2 quarts"),
        (Value("amount", 1, 1, "gallon"), "1 gallon"),
        (Value("amount", 0.5, 0.5, "cup"), "0.5 cup"),
        (Value("count", 0, 0, "mite"), "0 mites"),
        (Value("count", 4, 6, "frame"), "4 to 6 frames"),
        (Value("count", 3, 3, "box"), "3 boxes"),
        (Value("count", 2, 2, "queen cell"), "2 queen cells"),
        (Value("count", 2, 2, "bees"), "2 bees"),
        (Value("size", 6, 6, "inch"), "6 inches"),
        (Value("age", 2, 2, "year", approx=True), "about 2 years"),
        (Value("ratio", 1, 1, "sugar:water"), "1:1"),
        (Value("ratio", 1.5, 2, "sugar:water"), "1.5:1 to 2:1"),
        (Value("ratio", 0.5, 0.5, "sugar:water"), "1:2"),
        (Value("share", 0.5, 0.5, "1"), "50 %"),
        (Value("rate", 2, 2, "percent"), "2 %"),
        (Value("temperature", 65, 70, "degF"), "65 to 70 °F"),
        (Value("wind", 15, 15, "mile_per_hour"), "15 mph"),
        (Value("count", 7, 7, None), "7"),
        (Value("weight", 12_345_678, 12_345_678, "gram"), "12345678 grams"),
    ],
)
def test_values(value: Value, text: str) -> None:
    assert value_text(value) == text


def test_days_and_places() -> None:
    day, later = date(2026, 4, 2), date(2026, 4, 9)
    assert when_text(When(day, day)) == "on 2026-04-02"
    assert when_text(When(day, later)) == "2026-04-02 to 2026-04-09"
    assert when_text(When(day, None)) == "from 2026-04-02"
    assert when_text(When(None, later)) == "by 2026-04-09"
    assert [clock(s) for s in (0, 59.9, 130, 3725, None)] == ["0:00", "0:59", "2:10", "1:02:05", ""]


def test_a_whole_row() -> None:
    entry = Entry(
        "7", "equipment", "see", "bottom board", "seen",
        when=When(date(2026, 4, 2), date(2026, 4, 2)),
        details={"condition": "rotted", "source_hive": "3"},
    )  # fmt: skip
    assert entry_line(entry) == (
        "equipment: see bottom board, seen, on 2026-04-02, condition rotted, source hive 3"
    )


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(["ratio", "share", "age"]))
def test_any_number_can_be_shown(number: float, role: str) -> None:
    assert value_text(Value(role, number, number, "1" if role == "share" else "year"))
