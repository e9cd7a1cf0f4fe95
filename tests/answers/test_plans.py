"""Plans and follow-ups: proposed by rules, decided by the keeper, closed only after asking."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import season as invented
from makers import MAY

from fieldvoice.answers.ask import Ask
from fieldvoice.answers.plans import Due, open_dues
from fieldvoice.answers.sheet import sheet_html, sheet_text, sheets
from fieldvoice.errors import InputError, SettingsError
from fieldvoice.logbook.decided import Decided, decide
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Entry, When

DAY = date(2026, 5, 3)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "log.db"


@pytest.fixture
def bare(path: Path) -> Iterator[Any]:
    """Three hives, no rows."""
    with open_logbook(path, create=True) as logbook:
        for label in ("7", "8", "nuc 1"):
            add_hive(logbook, label, "home", MAY)
        yield logbook


def tell(logbook: Any, *entries: Entry, days: int = 0) -> None:
    """Rows said `days` after the third of May."""
    at = datetime.combine(DAY + timedelta(days), MAY.timetz())
    invented.keep_visit(logbook, invented.Visit(at, "home", entries))


def open_(logbook: Any, days: int = 0, hive: Any = None) -> dict[str, Due]:
    found = open_dues(Ask(logbook, DAY + timedelta(days), hive=hive)).dues
    return {f"{due.hive}: {due.what}": due for due in found}


SYRUP = invented.row("7", "feed", "give", "syrup")
SPLIT = invented.row("7", "colony", "split", "split", target_hive="nuc 1")
LOCKED = invented.row("8", "equipment", "close", "entrance")
SCREEN = invented.row("8", "equipment", "add", "robbing screen")
CELLS = invented.row("7", "queen", "see", "queen cell", "seen", condition="capped")
LOOKED = invented.row("7", "feed", "see", "syrup", "seen", condition="empty")
EGGS = invented.row("nuc 1", "brood", "see", "egg", "seen")


@pytest.mark.parametrize(
    ("entry", "hives", "do", "first", "last"),
    [
        (SYRUP, ["7"], "see whether the feed is taken", 3, 7),
        (SCREEN, ["8"], "robbing screen is clear of dead bees", 3, 7),
        (LOCKED, ["8"], "open the hive that was shut", 1, 2),
        (SPLIT, ["7", "nuc 1"], "look for eggs in both halves", 24, 30),
        (CELLS, ["7"], "look for eggs; until then do not disturb", 20, 28),
    ],
    ids=lambda value: value.item if isinstance(value, Entry) else None,
)
def test_what_follows_from_a_row(
    bare: Any, entry: Entry, hives: list[str], do: str, first: int, last: int
) -> None:
    tell(bare, entry)
    found = [due for due in open_(bare).values() if do in due.what]
    assert sorted(due.hive or "" for due in found) == hives
    for due in found:
        assert (due.first, due.last) == (DAY + timedelta(first), DAY + timedelta(last))
        assert due.state == "proposed"
        assert due.reason
        assert due.source


@pytest.mark.parametrize("status", ["planned", "skipped", "absent"])
def test_what_was_not_done_gives_rise_to_nothing(bare: Any, status: str) -> None:
    tell(bare, invented.row("7", "feed", "give", "syrup", status))
    assert not [due for due in open_(bare).values() if due.kind == "follow-up"]


def test_a_later_row_answers_a_follow_up(bare: Any) -> None:
    tell(bare, SYRUP, SPLIT)
    tell(bare, LOOKED, days=4)
    left = open_(bare, 4)
    assert not any("feed is taken" in name for name in left)
    tell(bare, EGGS, days=26)
    halves = [name for name in open_(bare, 26) if "both halves" in name]
    assert halves == [
        "7: look for eggs in both halves; between day 11 and 24 leave the queenless half shut"
    ]


def test_a_proposal_lapses_a_plan_does_not(bare: Any) -> None:
    tell(bare, SYRUP, invented.row("8", "equipment", "replace", "lid", "planned"))
    late = open_dues(Ask(bare, DAY + timedelta(90)))
    assert [due.kind for due in late.dues] == ["plan"]
    assert late.lapsed == 1


def test_decisions(bare: Any) -> None:
    tell(bare, SYRUP, invented.row("8", "equipment", "replace", "lid", "planned"), LOCKED)
    by_kind = open_(bare)
    feed = next(due for due in by_kind.values() if "feed" in due.what)
    lid = next(due for due in by_kind.values() if due.kind == "plan")
    shut = next(due for due in by_kind.values() if "shut" in due.what)
    decide(bare, feed.key, Decided("accepted"), MAY)
    decide(bare, lid.key, Decided("changed", DAY + timedelta(9), DAY + timedelta(9)), MAY)
    decide(bare, shut.key, Decided("dropped"), MAY)
    left = {due.key: due for due in open_dues(Ask(bare, DAY)).dues}
    assert left[feed.key].state == "accepted"
    assert left[lid.key].last == DAY + timedelta(9)
    assert shut.key not in left
    decide(bare, lid.key, Decided("done"), MAY)
    assert lid.key not in {due.key for due in open_dues(Ask(bare, DAY)).dues}
    kept = bare.execute("SELECT count(*) FROM due_decisions").fetchone()[0]
    assert kept == 4  # nothing was overwritten
    with pytest.raises(InputError, match="first day first"):
        decide(bare, lid.key, Decided("changed", DAY, DAY - timedelta(1)), MAY)


def test_a_plan_is_not_closed_unasked(bare: Any) -> None:
    tell(bare, invented.row("8", "equipment", "replace", "lid", "planned"))
    tell(bare, invented.row("8", "equipment", "replace", "lid", "done"), days=7)
    (plan,) = [due for due in open_(bare, 7).values() if due.kind == "plan"]
    assert plan.maybe is not None
    assert plan.maybe.day == DAY + timedelta(7)


def test_what_was_decided_against_later_is_shown_with_the_plan(bare: Any) -> None:
    tell(bare, invented.row("8", "treatment", "treat", "thymol", "planned"))
    tell(bare, invented.row("8", "treatment", "treat", "thymol", "skipped"), days=7)
    (plan,) = [due for due in open_(bare, 7).values() if due.kind == "plan"]
    assert plan.maybe is not None
    assert plan.maybe.status == "skipped"


def test_a_plan_for_all_hives_is_done_when_all_have_it(bare: Any) -> None:
    november = When(DAY, DAY + timedelta(30))
    tell(bare, Entry("all", "treatment", "treat", "oxalic acid", "planned", when=november))
    treat = [
        invented.row(hive, "treatment", "treat", "oxalic acid") for hive in ("7", "8", "nuc 1")
    ]
    tell(bare, *treat[:2], days=7)
    (plan,) = [due for due in open_(bare, 7).values() if due.kind == "plan"]
    assert (plan.maybe, plan.progress) == (None, "2 of 3 hives have such a row")
    tell(bare, treat[2], days=8)
    (plan,) = [due for due in open_(bare, 8).values() if due.kind == "plan"]
    assert plan.maybe is not None


def test_a_keepers_own_rule(bare: Any, path: Path) -> None:
    tell(bare, invented.row("7", "equipment", "add", "strap"))
    assert open_(bare) == {}
    (path.parent / "followups.toml").write_text(
        '[[rule]]\nname = "strap"\nrows = { kind = ["equipment"], item = ["strap"] }\n'
        'days = [2, 4]\ndo = "tighten the strap"\n',
        encoding="utf-8",
    )
    (due,) = open_(bare).values()
    assert due.what == "tighten the strap"
    (path.parent / "followups.toml").write_text("[[rule]]\nname = 3\n", encoding="utf-8")
    with pytest.raises(SettingsError, match=r"followups\.toml: an entry of \[\[rule\]\] lacks"):
        open_(bare)


@pytest.mark.parametrize("rule", trade_file("followups")["rule"], ids=lambda rule: rule["name"])
def test_each_rule_is_whole(rule: dict[str, Any]) -> None:
    from fieldvoice.types import ACTIONS, KINDS, STATUSES

    assert rule["do"] and rule["because"] and rule["source"]
    first, last = rule["days"]
    assert 0 <= first <= last
    for way in (rule["rows"], *rule["done_by"]):
        assert set(way.get("kind", ())) <= set(KINDS)
        assert set(way.get("action", ())) <= set(ACTIONS)
        assert set(way.get("status", ())) <= set(STATUSES)
    assert set(rule) <= {
        "name", "rows", "days", "do", "because", "source", "done_by", "months", "on_target",
    }  # fmt: skip


def test_a_sheet_has_a_page_for_each_yard(ask: Any) -> None:
    from html.parser import HTMLParser

    pages = sheets(ask("2025-10-14"))
    assert [page.yard for page in pages] == ["orchard", "ridge"]
    text = sheet_text(pages).split("\f")
    assert "take out the amitraz strip" in text[0].partition("hive 12 ")[2].partition("hive 13 ")[0]
    assert "sugar: 100 pound" in text[0].partition("To bring")[2]
    assert "label" in text[0]
    seen = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: Any) -> None:
            seen.append(tag)

    Reader().feed(sheet_html(pages))
    assert seen.count("section") == 2
    assert seen.count("h2") == 2 * 20 + 2 - 0


def test_the_calendar_is_read_by_another_library(ask: Any) -> None:
    import vobject

    from fieldvoice.answers.calendar_file import calendar_text, dated

    dues = open_dues(ask("2025-10-14")).dues
    text = calendar_text(dues, MAY)
    events = list(vobject.readOne(text).vevent_list)
    expected = {
        (days[0], days[1] + timedelta(1), due.what)
        for due in dues if (days := dated(due)) is not None
    }  # fmt: skip
    assert len(events) == sum(dated(due) is not None for due in dues)
    assert {
        (e.dtstart.value, e.dtend.value, e.summary.value.partition(": ")[2]) for e in events
    } == expected
    assert len({e.uid.value for e in events}) == len(events)
    assert max(len(line.encode()) for line in text.split("\r\n")) <= 75  # RFC 5545, 3.1
