"""Fixtures: a logbook, its page, and Debian's chromium."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))  # the scorer
from page_tools import Page, make_logbook, served
from playwright.sync_api import Browser, BrowserContext, sync_playwright
from playwright.sync_api import Page as Tab

CHROMIUM = "/usr/bin/chromium"


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    path = tmp_path / "log.db"
    make_logbook(path)
    return path


@pytest.fixture
def page(logbook: Path) -> Iterator[Page]:
    with served(logbook) as shown:
        yield shown


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-dev-shm-usage",
                "--autoplay-policy=no-user-gesture-required",
            ],
        )
        yield started
        started.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    made = browser.new_context(viewport={"width": 1366, "height": 768})
    made.set_default_timeout(15_000)
    yield made
    made.close()


@pytest.fixture
def opened(context: BrowserContext) -> Callable[[Page], Tab]:
    """Enter, go to the recording, wait until it is ready; faults of the page fail the test."""
    faults: list[str] = []

    def open_tab(page: Page, *, link: str = "") -> Tab:
        tab = context.new_page()
        tab.on("pageerror", lambda error: faults.append(str(error)))
        tab.on("console", lambda m: faults.append(m.text) if _is_fault(m) else None)
        tab.goto(link or page.link)
        ready(tab)
        return tab

    yield open_tab
    assert faults == []


def _is_fault(message: Any) -> bool:
    """Refused requests are told by the page itself; all else is a fault of the page."""
    return message.type == "error" and "Failed to load resource" not in message.text


def ready(tab: Tab) -> None:
    tab.wait_for_selector("html[data-ready=yes]")
