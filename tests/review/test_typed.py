"""Fields as typed on the page: days by their number, kinds that follow, doubts that are settled."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from fieldvoice.cli.page import days_of_words
from fieldvoice.review.page.typed import read_entry
from fieldvoice.types import Entry, Value, When

DAY = date(2026, 10, 3)  # a Saturday
ROW = Entry(
    "7", "equipment", "add", "super", "planned", (Value("count", 1, 1, "super"),),
    flags=("unsure-hive", "unsure-number", "unsure-kind", "unsure-row"),
)  # fmt: skip


def read(**typed: Any) -> Entry:
    entry, problems = read_entry(ROW, typed, DAY, days_of_words)
    assert problems == {}
    return entry


@pytest.mark.parametrize(
    ("said", "when"),
    [
        ("24", When(date(2026, 10, 24), date(2026, 10, 24))),
        ("the 24th", When(date(2026, 10, 24), date(2026, 10, 24))),
        ("on the 2nd", When(date(2026, 11, 2), date(2026, 11, 2))),  # this month's is over
        ("by 24", When(DAY, date(2026, 10, 24))),
        ("by the 24th", When(DAY, date(2026, 10, 24))),
        ("next Tuesday", When(date(2026, 10, 6), date(2026, 10, 6))),
        ("", None),
    ],
)
def test_days_as_a_keeper_types_them(said: str, when: When | None) -> None:
    assert read(when=said).when == when


def test_there_is_no_thirty_second() -> None:
    _, problems = read_entry(ROW, {"when": "by the 32nd"}, DAY, days_of_words)
    assert "no day that is understood" in problems["when"]


def test_the_kind_follows_the_thing_until_it_is_chosen() -> None:
    assert read(item="queen cell", kind="equipment").kind == "queen"
    assert read(item="queen cell", kind="equipment", kind_chosen=True).kind == "equipment"
    assert read(item="queen cell", kind="note").kind == "note"


def test_a_field_that_was_typed_is_in_doubt_no_more() -> None:
    """What was left as it was still is; a doubt about the whole row is settled by confirming."""
    assert read(hive="9").flags == ("unsure-number", "unsure-kind", "unsure-row")
    assert read(values=["2 supers"]).flags == ("unsure-hive", "unsure-kind", "unsure-row")
    assert read(values=["count 1 super", ""], hive="7").flags == ROW.flags
    assert read(kind="colony", values=[]).flags == ("unsure-hive", "unsure-row")
