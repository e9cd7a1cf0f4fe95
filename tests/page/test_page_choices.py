"""Doubts settled by one key: a digit, a whole hive, the rows said after; and what is typed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from makers import query
from page_tools import EGGS, SYRUP, Page, go_to, log, make_logbook, many, row, served, until
from playwright.sync_api import Browser, expect
from playwright.sync_api import Page as Tab

from fieldvoice.types import Entry, Value

Open = Callable[..., Tab]

BEES = Entry("7", "population", "see", "bees", "seen", (Value("count", 8, 8, "frame"),),
             quote="eight frames of bees", start=10.0, end=12.0, confidence=0.9)  # fmt: skip
QUEEN = Entry("7", "queen", "see", "queen", "seen", quote="saw the queen", start=14.0, end=16.0,
              confidence=0.5, flags=("unsure-hive",))  # fmt: skip
BROOD = replace(QUEEN, kind="brood", item="brood", quote="brood on five", start=17.0, end=18.0,
                flags=("unsure-hive", "unsure-status"))  # fmt: skip
TRAP = replace(QUEEN, kind="equipment", action="add", item="beetle trap", status="done",
               quote="put a trap in", start=19.0, end=20.0)  # fmt: skip
MITES = Entry("8", "mites", "sample", "mite", "done",
              (Value("count", 42, 42, "mite"), Value("count", 44, 44, "mite")),
              quote="I count 42, no, 44 mites", start=30.0, end=33.0, confidence=0.5,
              flags=("unsure-number",))  # fmt: skip
ROWS = (BEES, QUEEN, BROOD, TRAP, MITES)


@pytest.fixture
def doubts(tmp_path: Path) -> Iterator[Page]:
    """Hive 7 with three rows whose hive is in doubt, hive 8 with two numbers."""
    make_logbook(tmp_path / "log.db", ROWS)
    with served(tmp_path / "log.db") as page:
        yield page


def left(tab: Tab, words: str) -> None:
    expect(tab.locator("#left")).to_have_text(words)


def looked(tab: Tab) -> None:
    tab.wait_for_timeout(400)  # a row that only rushed past was not shown


def test_a_digit_chooses_the_hive_confirms_and_goes_on(doubts: Page, opened: Open) -> None:
    tab = opened(doubts)
    buttons = tab.locator(".row.current .offers button").all_text_contents()
    assert buttons == ["8 hive 8", "9 hive 9", "0 the yard"]  # a hive has its own digit
    tab.keyboard.press("9")
    expect(row(tab, "saw the queen").locator(".state")).to_have_text("✓ in the log")
    expect(row(tab, "saw the queen").locator(".moved")).to_have_text("hive 9")  # it stays in place
    assert log(doubts) == [("9", "queen", "seen")]
    assert "brood on five" in (tab.locator(".row.current").text_content() or "")
    tab.keyboard.press("u")
    tab.keyboard.press("u")
    left(tab, "5 to decide, 4 doubtful")
    assert log(doubts) == []
    assert query(doubts.logbook, "SELECT DISTINCT hive FROM drafts ORDER BY 1") == [("7",), ("8",)]


def test_a_number_typed_at_once_decides_on_one_row_only(doubts: Page, opened: Open) -> None:
    """ "90" chooses by the 9; the 0 must not give the next row to the yard."""
    tab = opened(doubts)
    tab.keyboard.type("90")
    expect(tab.locator("#said")).to_contain_text("0 was not taken")
    expect(row(tab, "saw the queen").locator(".state")).to_have_text("✓ in the log")
    left(tab, "4 to decide, 3 doubtful")
    assert log(doubts) == [("9", "queen", "seen")]
    assert query(doubts.logbook, "SELECT count(DISTINCT step) FROM history") == [(2,)]


def test_where_something_else_is_asked_a_digit_settles_its_own_doubt(
    doubts: Page, opened: Open
) -> None:
    tab = opened(doubts)
    go_to(tab, "brood on five")
    assert tab.locator(".row.current .why li").count() == 2
    tab.keyboard.press("9")
    expect(row(tab, "brood on five").locator(".why li")).to_have_count(1)
    expect(row(tab, "brood on five").locator(".why li")).to_have_text(
        "the status is not sure: seen"
    )
    left(tab, "5 to decide, 4 doubtful")
    looked(tab)
    absent = row(tab, "brood on five").locator(".offers button", has_text="not there")
    tab.keyboard.press(str(absent.get_attribute("data-key")))
    expect(row(tab, "brood on five").locator(".state")).to_have_text("✓ in the log")
    assert log(doubts) == [("9", "brood", "absent")]


def test_of_two_numbers_one_by_its_digit(doubts: Page, opened: Open) -> None:
    tab = opened(doubts)
    go_to(tab, "44 mites")
    only = tab.locator(".row.current .offers button", has_text="only 44 mites")
    tab.keyboard.press(str(only.get_attribute("data-key")))
    expect(row(tab, "44 mites").locator(".state")).to_have_text("✓ in the log")
    assert query(doubts.logbook, "SELECT role, lo FROM entry_values") == [("count", 44.0)]


def test_the_rows_said_after_go_to_the_same_hive(doubts: Page, opened: Open) -> None:
    tab = opened(doubts)
    tab.keyboard.press("9")
    expect(tab.locator("#run")).to_contain_text("this and 1 said after it: hive 9")
    tab.keyboard.press("y")
    expect(row(tab, "put a trap in").locator(".moved")).to_have_text("hive 9")
    left(tab, "4 to decide, 2 doubtful")  # given, and not confirmed: they still wait
    assert log(doubts) == [("9", "queen", "seen")]
    looked(tab)
    tab.keyboard.press("f")
    left(tab, "1 to decide, 1 doubtful")
    assert log(doubts) == [("7", "bees", "seen"), ("9", "beetle trap", "done"),
                           ("9", "brood", "seen"), ("9", "queen", "seen")]  # fmt: skip
    tab.reload()
    tab.wait_for_selector("html[data-ready=yes]")
    assert tab.locator("section.hive h2").all_text_contents() == ["Hive 7", "Hive 9", "Hive 8"]


def test_a_whole_hive_is_confirmed_in_one_key(doubts: Page, opened: Open) -> None:
    tab = opened(doubts)
    looked(tab)
    tab.keyboard.press("f")
    left(tab, "1 to decide, 1 doubtful")
    assert query(doubts.logbook, "SELECT count(*) FROM entries WHERE hive = '7'") == [(4,)]
    assert query(doubts.logbook, "SELECT count(DISTINCT step) FROM history") == [(1,)]
    tab.keyboard.press("u")
    left(tab, "5 to decide, 4 doubtful")


def test_no_row_is_confirmed_with_its_hive_that_was_not_shown(tmp_path: Path, opened: Open) -> None:
    """Sixty rows of three hives: what lies below the edge is shown before it is confirmed."""
    path = tmp_path / "log.db"
    make_logbook(path, [replace(entry, hive="7") for entry in many(30)])
    with served(path) as page:
        tab = opened(page)
        tab.keyboard.press("f")  # at once: nothing was shown long enough
        expect(tab.locator("#said")).to_contain_text("not shown yet")
        assert log(page) == []
        for _ in range(12):
            looked(tab)
            shown = tab.evaluate(
                """() => { const top = document.querySelector('.player').getBoundingClientRect().bottom;
                const low = document.querySelector('.bar').getBoundingClientRect().top;
                window.shown = window.shown || new Set();
                for (const row of document.querySelectorAll('.row')) {
                  const box = row.getBoundingClientRect();
                  if (box.top >= top - 1 && box.bottom <= low + 1) window.shown.add(row.id); }
                return window.shown.size; }"""
            )
            tab.keyboard.press("f")
            tab.wait_for_timeout(100)
            if tab.locator("#finished").count():
                break
            assert log(page) == []
        assert shown == 30
        assert query(page.logbook, "SELECT count(*) FROM entries") == [(30,)]


def test_rows_are_played_by_themselves_if_that_is_wished(doubts: Page, opened: Open) -> None:
    tab = opened(doubts)
    tab.keyboard.press("c")
    tab.wait_for_timeout(300)
    assert tab.evaluate("document.getElementById('sound').paused")
    tab.keyboard.press("p")
    tab.keyboard.press("c")
    until(tab, "!document.getElementById('sound').paused")
    assert 17.9 <= tab.evaluate("document.getElementById('sound').currentTime") <= 20.5
    tab.reload()
    tab.wait_for_selector("html[data-ready=yes]")
    tab.keyboard.press("?")
    assert tab.get_by_label("Play each row by itself").is_checked()


@pytest.mark.parametrize("width", [1366, 360])
def test_as_many_numbers_as_are_needed(page: Page, browser: Browser, width: int) -> None:
    """By Tab alone: each number that is filled in brings an input for the next."""
    context = browser.new_context(viewport={"width": width, "height": 740})
    tab = context.new_page()
    tab.goto(page.link)
    tab.wait_for_selector("html[data-ready=yes]")
    go_to(tab, "saw eggs")
    tab.keyboard.press("v")
    tab.locator("form.edit").wait_for()
    for number, text in enumerate(("2 quarts", "1:1", "3 frames"), 1):
        assert (
            tab.evaluate("document.activeElement.getAttribute('aria-label')") == f"Number {number}"
        )
        tab.keyboard.type(text)
        tab.keyboard.press("Tab")
    expect(tab.locator("output")).to_contain_text("2 quarts, 1:1, 3 frames")
    assert tab.locator("[name=values]").count() == 4
    assert tab.evaluate("document.documentElement.scrollWidth") == width
    last = tab.locator("[name=values]").last.bounding_box()
    assert last
    assert last["x"] + last["width"] <= width
    tab.keyboard.press("Enter")
    expect(row(tab, "saw eggs").locator(".state")).to_have_text("✓ in the log")
    assert query(page.logbook, "SELECT role, lo, unit FROM entry_values ORDER BY position") == [
        ("amount", 2.0, "quart"), ("ratio", 1.0, "sugar:water"), ("count", 3.0, "frame"),
    ]  # fmt: skip
    context.close()


def test_numbers_typed_are_there_after_a_restart(page: Page, opened: Open) -> None:
    tab = opened(page)
    go_to(tab, "saw eggs")
    tab.keyboard.press("v")
    tab.locator("form.edit").wait_for()
    for text in ("2 quarts", "1:1"):
        tab.keyboard.type(text)
        tab.keyboard.press("Tab")
    tab.reload()
    tab.locator("form.edit").wait_for()
    values = tab.locator("[name=values]")
    expect(values).to_have_count(3)
    assert [one.input_value() for one in values.all()] == ["2 quarts", "1:1", ""]


def test_the_form_completes_hives_and_makes_new_ones_after_a_question(
    tmp_path: Path, opened: Open
) -> None:
    from page_tools import MAY

    from fieldvoice.logbook.opening import open_logbook
    from fieldvoice.logbook.register_changes import add_hive

    path = tmp_path / "log.db"
    make_logbook(path, [EGGS, replace(SYRUP, quote="syrup for the nuc")])
    with open_logbook(path) as logbook:
        add_hive(logbook, "nuc 2", "home", MAY)
    with served(path) as page:
        tab = opened(page)
        known = tab.locator("#hives option").evaluate_all("all => all.map((one) => one.value)")
        assert known == ["7", "8", "9", "nuc 2", "all"]
        go_to(tab, "syrup for the nuc")
        tab.keyboard.press("e")
        hive = tab.locator("#f-hive")
        assert hive.get_attribute("list") == "hives"  # the browser offers them while one types
        hive.fill("n")
        hive.press("Enter")
        expect(row(tab, "syrup for the nuc").locator(".state")).to_have_text("✓ in the log")
        assert log(page) == [("nuc 2", "syrup", "done")]
        go_to(tab, "saw eggs")
        tab.keyboard.press("e")
        hive.fill("31")
        hive.press("Enter")
        expect(tab.locator("#ask")).to_contain_text("Hive 31 is new")
        tab.keyboard.press("Escape")
        assert hive.input_value() == "31"  # nothing was made, nothing is lost
        assert ("31",) not in query(path, "SELECT label FROM hives")
        hive.press("Enter")
        tab.get_by_role("button", name="Add hive 31").click()
        expect(row(tab, "saw eggs").locator(".state")).to_have_text("✓ in the log")
        assert ("31",) in query(path, "SELECT label FROM hives")
        assert ("31", "egg", "seen") in log(page)


def test_a_phone_chooses_by_thumb(doubts: Page, browser: Browser) -> None:
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    tab = context.new_page()
    tab.goto(doubts.link)
    tab.wait_for_selector("html[data-ready=yes]")
    for button in tab.locator(".row.current button, .hivehead button").all():
        box: Any = button.bounding_box()
        if box:
            assert box["height"] >= 44
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= 360
    tab.locator(".row.current .offers").get_by_role("button", name="hive 9").tap()
    left(tab, "4 to decide, 3 doubtful")
    assert log(doubts) == [("9", "queen", "seen")]
    context.close()


def test_a_nickname_is_learnt_by_one_digit_and_forgotten(tmp_path: Path, opened: Open) -> None:
    path = tmp_path / "log.db"
    blue = replace(QUEEN, hive="blue one", flags=("hive-unknown",), quote="blue one has a queen")
    make_logbook(path, [blue])
    with served(path) as page:
        tab = opened(page)
        expect(row(tab, "blue one").locator(".why")).to_contain_text("not in the register")
        tab.keyboard.press("c")  # taken for a hive of its own: asked first
        expect(tab.locator("#ask")).to_contain_text("Hive blue one is new")
        tab.keyboard.press("Escape")
        tab.keyboard.press("9")
        expect(tab.locator("#said")).to_contain_text('From now on "blue one" is hive 9')
        assert query(path, "SELECT alias FROM aliases") == [("blue one",)]
        tab.get_by_role("link", name="Words learnt").click()
        expect(tab.get_by_role("button", name="Forget blue one")).to_be_visible()
        tab.wait_for_load_state("load")  # until then no script listens to the button
        tab.get_by_role("button", name="Forget blue one").click()
        expect(tab.get_by_role("button", name="Forget blue one")).to_have_count(0)
        assert query(path, "SELECT count(*) FROM aliases") == [(0,)]
