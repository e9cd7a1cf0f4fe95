"""Rows of the log are found by day, kind, status, yard, hive and words."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from makers import EGGS, MAY, SUMMER, SYRUP, drafted

from fieldvoice.errors import InputError
from fieldvoice.logbook.drafts import get_drafts, save_step
from fieldvoice.logbook.entries import Filter, log_rows
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register import need_hive
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.review import decisions
from fieldvoice.types import Entry

JUNE = datetime(2026, 6, 7, 0, 30, tzinfo=SUMMER)  # still the sixth in UTC
WIND = Entry(None, "weather", "see", "wind", "seen", quote="windy", start=1.0, confidence=0.9)
EVERY = Entry("all", "stores", "see", "heft", "planned", quote="heft every hive", confidence=0.9)
SWAP = Entry(
    "8", "brood", "add", "brood", "done", details={"source_hive": "7"},
    quote="a frame of brood from seven", start=40.0, confidence=0.9,
)  # fmt: skip


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Any]:
    with open_logbook(tmp_path / "log.db", create=True) as opened:
        for label in ("7", "8"):
            add_hive(opened, label, "home", MAY)
        add_hive(opened, "M1", "mill", MAY)
        for number, (at, yard, rows) in enumerate(
            [
                (MAY, "home", [SWAP, SYRUP, WIND]),
                (JUNE, "home", [EGGS, EVERY]),
                (JUNE + timedelta(hours=9), "mill", [replace(EVERY, quote="heft the mill hives")]),
            ]
        ):
            save_step(opened, decisions.confirm(drafted(opened, rows, number, at, yard), MAY))
        yield opened


def quotes(logbook: Any, **which: Any) -> list[str]:
    return [row.entry.quote for row in log_rows(logbook, Filter(**which))]


def test_newest_visit_first_each_in_the_order_it_was_said(logbook: Any) -> None:
    assert quotes(logbook) == [
        "heft the mill hives", "no eggs in eight", "heft every hive",
        "windy", "gave her two quarts of two to one", "a frame of brood from seven",
    ]  # fmt: skip


def test_days_are_the_days_of_the_place(logbook: Any) -> None:
    assert quotes(logbook, since=date(2026, 6, 7)) == quotes(logbook)[:3]
    assert quotes(logbook, since=date(2026, 6, 8)) == []
    assert quotes(logbook, until=date(2026, 6, 6)) == quotes(logbook)[3:]
    assert quotes(logbook, since=MAY.date(), until=MAY.date()) == quotes(logbook)[3:]


def test_kind_status_yard(logbook: Any) -> None:
    assert quotes(logbook, kind="weather") == ["windy"]
    assert quotes(logbook, status="planned") == ["heft the mill hives", "heft every hive"]
    assert quotes(logbook, status="planned", yard="MILL") == ["heft the mill hives"]


def test_a_hive_has_its_own_rows_those_of_all_hives_and_mentions(logbook: Any) -> None:
    assert quotes(logbook, hive=need_hive(logbook, "7")) == [
        "heft every hive", "gave her two quarts of two to one", "a frame of brood from seven",
    ]  # fmt: skip
    assert quotes(logbook, hive=need_hive(logbook, "M1")) == ["heft the mill hives"]


def test_words_are_found_in_quotes_and_items(logbook: Any) -> None:
    assert quotes(logbook, words="quart") == ["gave her two quarts of two to one"]
    assert quotes(logbook, words="syrup") == ["gave her two quarts of two to one"]
    assert quotes(logbook, words="heft mill") == ["heft the mill hives"]
    assert quotes(logbook, words='NEAR( "quote* ^ -') == []
    assert quotes(logbook, words="hefting", status="planned") == quotes(logbook, status="planned")
    with pytest.raises(InputError, match="at least one word"):
        quotes(logbook, words=' "" ')


def test_words_follow_what_is_edited_and_taken_back(logbook: Any) -> None:
    uuid = log_rows(logbook, Filter(kind="weather"))[0].uuid
    draft = get_drafts(logbook, [uuid])[uuid]
    save_step(logbook, decisions.edit(draft, replace(WIND, item="gust"), MAY))
    assert quotes(logbook, words="gust") == quotes(logbook, words="windy") == ["windy"]
    assert quotes(logbook, words="wind") == []
    save_step(logbook, decisions.reject([get_drafts(logbook, [uuid])[uuid]], MAY))
    assert quotes(logbook, words="gust") == []
    logbook.execute("INSERT INTO entries_fts (entries_fts) VALUES ('integrity-check')")


def test_a_big_log_answers_at_once(tmp_path: Path) -> None:
    """100,000 rows over ten years; the bound is generous, the index is what is tested."""
    with open_logbook(tmp_path / "big.db", create=True) as logbook:
        for label in range(40):
            add_hive(logbook, str(label), "home", MAY)
        logbook.execute("PRAGMA synchronous = OFF")
        drafted(logbook, [SYRUP], 1)
        logbook.execute("PRAGMA foreign_keys = OFF")
        logbook.execute(
            "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 100000)"
            " INSERT INTO entries (uuid, recording_id, yard_id, hive_id, hive, kind, action, item,"
            " status, quote, confidence, recorded_at, utc_offset_min, day, confirmed_at)"
            " SELECT 'u' || i, 1, 1, 1 + i % 40, (i % 40) || '', 'feed', 'give', 'syrup',"
            " CASE i % 50 WHEN 0 THEN 'planned' ELSE 'done' END, 'fed word' || (i % 5000), 0.9,"
            " date('2016-01-01', (i / 28) || ' days') || 'T08:00:00Z', 120,"
            " date('2016-01-01', (i / 28) || ' days'), '2026-05-03T07:30:00Z' FROM n"
        )
        hive = need_hive(logbook, "7")
        for which in (
            Filter(hive=hive, since=date(2025, 1, 1)),
            Filter(words="word77"),
            Filter(status="planned", since=date(2025, 6, 1)),
        ):
            started = time.perf_counter()
            found = log_rows(logbook, which)
            took = time.perf_counter() - started
            print(f"{len(found)} rows in {took * 1000:.0f} ms")
            assert found
            assert took < 1.0
