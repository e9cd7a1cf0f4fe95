"""Every page there is: readable for everyone, no wider than the phone, nothing moves; and the
pages on which plans are decided and labels typed."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from makers import query
from page_tools import Page, served, violations
from playwright.sync_api import Browser, expect

from fieldvoice.errors import InputError
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.review.page.serve import lan_address

sys.path.insert(0, str(Path(__file__).parent.parent.parent / "demo"))

import season as invented

PAGES = (
    "/", "/learnt", "/phone", "/hand-in", "/nothing", "/ask", "/ask/due?on=2025-10-14",
    "/ask/feed?on=2025-10-14", "/ask/mites?hive=7&on=2025-10-14", "/ask/treatments?on=2025-10-14",
    "/ask/winter?on=2025-10-14", "/ask/search?words=queen&on=2025-10-14", "/ask/plans",
    "/ask/labels", "/ask/feed?hive=99",
)  # fmt: skip


@pytest.fixture(scope="module")
def year_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented year."""
    path = tmp_path_factory.mktemp("year") / "log.db"
    with open_logbook(path, create=True) as logbook:
        invented.load(logbook, invented.season())
    return path


@pytest.fixture
def planned(tmp_path: Path) -> Iterator[Page]:
    """A fortnight ago, three things were planned."""
    path = tmp_path / "log.db"
    then = datetime.now(UTC).replace(microsecond=0) - timedelta(days=14)
    plans = [
        invented.row(hive, "equipment", "add", "super", "planned", quote=f"a super for {hive}")
        for hive in ("3", "5", "7")
    ]
    with open_logbook(path, create=True) as logbook:
        for label in ("3", "5", "7"):
            add_hive(logbook, label, "orchard", then)
        invented.keep_visit(logbook, invented.Visit(then, "orchard", tuple(plans)))
    with served(path) as page:
        yield page


@pytest.mark.parametrize(("width", "scheme"), [(360, "light"), (1366, "dark")])
def test_every_page_is_accessible_and_fits(
    year_log: Path, browser: Browser, width: int, scheme: Any
) -> None:
    context = browser.new_context(
        viewport={"width": width, "height": 740}, color_scheme=scheme, has_touch=width == 360
    )
    tab = context.new_page()
    with served(year_log) as page:
        tab.goto(page.link)
        for address in PAGES:
            tab.goto(f"{page.site}{address}")
            assert violations(tab) == [], address
            assert tab.evaluate("document.documentElement.scrollWidth") <= width, address
            assert tab.locator("h1").count() == 1, address
    context.close()


def test_nothing_moves_where_that_is_not_wished(page: Page, browser: Browser) -> None:
    """WCAG 2.3.3: no animation, no smooth scrolling, nothing that starts by itself."""
    context = browser.new_context(viewport={"width": 1366, "height": 768}, reduced_motion="reduce")
    tab = context.new_page()
    tab.goto(page.link)
    tab.wait_for_selector("html[data-ready=yes]")
    tab.keyboard.press("r")
    expect(tab.locator("#left")).to_have_text("4 to decide, 1 doubtful")
    assert tab.evaluate("document.getAnimations().length") == 0
    styles = tab.evaluate(
        """[...new Set([...document.querySelectorAll('*')].map((one) => { const s = getComputedStyle(one);
        return [s.transitionDuration, s.animationName, s.scrollBehavior].join(' '); }))]"""
    )
    assert styles == ["0s none auto"]
    assert tab.evaluate("document.getElementById('sound').paused")
    context.close()


def test_plans_are_closed_moved_and_taken(planned: Page, browser: Browser) -> None:
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    tab = context.new_page()
    tab.goto(planned.link)
    tab.goto(f"{planned.site}/ask/plans")
    tab.wait_for_selector("html[data-ready=yes]")
    assert violations(tab) == []
    expect(tab.locator(".plans li")).to_have_count(3)
    first = tab.locator(".plans li").first
    first.get_by_role("button", name="Done").tap()
    expect(tab.locator("#said")).to_contain_text("done.")
    expect(tab.locator(".plans li")).to_have_count(2)
    tab.locator(".plans li").first.get_by_role("button", name="Move").tap()
    expect(tab.locator("#problem")).to_have_text("Choose the day first.")
    tab.locator(".plans li").first.locator("[name=day]").fill("2027-03-01")
    tab.locator(".plans li").first.get_by_role("button", name="Move").tap()
    expect(tab.locator("#said")).to_contain_text("moved to 2027-03-01.")
    tab.locator(".plans li").first.get_by_role("button", name="Drop").tap()
    expect(tab.locator("#said")).to_contain_text("dropped.")
    expect(tab.locator(".plans li")).to_have_count(1)
    told = query(
        planned.logbook, "SELECT decision, due_from, due_to FROM due_decisions ORDER BY id"
    )
    assert told == [("done", None, None), ("changed", "2027-03-01", "2027-03-01"),
                    ("dropped", None, None)]  # fmt: skip
    context.close()


def test_a_label_is_typed_in(page: Page, browser: Browser) -> None:
    context = browser.new_context()
    tab = context.new_page()
    tab.goto(page.link)
    tab.goto(f"{page.site}/ask/labels")
    tab.wait_for_selector("html[data-ready=yes]")
    tab.get_by_label("Product, as on the packet").fill("Strips <b>of ours</b>")
    tab.get_by_label("Your word for it").fill("amitraz strip")
    tab.get_by_label("Where you read it").fill("leaflet in the packet, 2024")
    tab.get_by_label("at least").fill("56")
    tab.get_by_label("at most").fill("42")
    tab.get_by_label("Honey supers").select_option("off")
    tab.get_by_role("button", name="Keep").click()
    expect(tab.locator("#problem")).to_contain_text("runs backwards")
    assert tab.get_by_label("Your word for it").input_value() == "amitraz strip"  # nothing is lost
    tab.get_by_label("at most").fill("70")
    tab.get_by_role("button", name="Keep").click()
    expect(tab.locator("#said")).to_contain_text("The label in your hand decides")
    expect(tab.locator(".plans li")).to_contain_text("Strips <b>of ours</b>")
    assert query(
        page.logbook, "SELECT item, days_min, days_max, low_c, supers FROM label_records"
    ) == [("amitraz strip", 56, 70, None, "off")]
    context.close()


@pytest.mark.parametrize("address", ["/ask/plans/decide", "/ask/labels/add"])
def test_what_is_sent_from_elsewhere_is_refused(page: Page, address: str) -> None:
    with page.client() as client:
        for wrong, status in (
            ({"origin": "http://evil.example"}, 403), ({"host": "evil.example"}, 421),
            ({"cookie": ""}, 403), ({"content-type": "text/plain"}, 415),
        ):  # fmt: skip
            headers = {"content-type": "application/json"} | wrong
            assert client.post(address, content=b"{}", headers=headers).status_code == status
        for nonsense in (b"[]", b"no", b'{"id": 3}', b'{"product": "x", "days_min": "many"}'):
            told = client.post(
                address, content=nonsense, headers={"content-type": "application/json"}
            )
            assert told.status_code == 422
            assert told.json()["problem"].endswith(".")
    for table in ("due_decisions", "label_records"):
        assert query(page.logbook, f"SELECT count(*) FROM {table}") == [(0,)]


def test_the_phone_page_shows_its_code_and_what_it_means(logbook: Path, browser: Browser) -> None:
    """Where this machine is in no network, the command says so instead."""
    try:
        house = lan_address()
    except InputError as error:
        assert "in no network" in str(error)
        return
    with served(logbook, "--lan") as page:
        laptop, phone = (
            browser.new_context(),
            browser.new_context(
                viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
            ),
        )
        tab = laptop.new_page()
        tab.goto(page.link)
        tab.goto(page.site)
        tab.get_by_role("link", name="Phone").click()
        expect(tab.locator("main")).to_contain_text("not encrypted")
        assert violations(tab) == []
        code = tab.locator(".code svg").bounding_box()
        assert code
        assert min(code["width"], code["height"]) > 200  # a camera reads it across a table
        link = str(tab.locator(".link").text_content())
        assert link.startswith(f"http://{house}:")
        other = phone.new_page()
        other.goto(link)
        other.wait_for_selector("html[data-ready=yes]")
        other.locator(".row.current").get_by_role("button", name="Reject").tap()
        expect(other.locator("#left")).to_have_text("4 to decide, 1 doubtful")
        laptop.close()
        phone.close()
    assert query(logbook, "SELECT decision FROM history") == [("reject",)]
