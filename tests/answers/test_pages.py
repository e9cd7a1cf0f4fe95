"""The questions as pages: every one answers, nothing unescaped, what is wrong is a sentence."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import season as invented
from starlette.applications import Starlette
from starlette.testclient import TestClient

from fieldvoice.answers.pages import ask_routes
from fieldvoice.answers.questions import QUESTIONS
from fieldvoice.logbook.opening import open_logbook


class Read(HTMLParser):
    """Cells, links, and every element's name."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self.links: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.names.append(tag)
        self.links += [value for name, value in attrs if name in ("href", "src")]


@pytest.fixture
def page(season_path: Path, tmp_path: Path) -> Iterator[TestClient]:
    shutil.copyfile(season_path, tmp_path / "log.db")
    day = date(2025, 10, 14)
    with TestClient(Starlette(routes=ask_routes(tmp_path / "log.db", lambda: day))) as client:
        yield client


@pytest.mark.parametrize("name", QUESTIONS)
def test_each_question_has_a_page(page: TestClient, name: str, ask: Any) -> None:
    from fieldvoice.answers.questions import answer

    assert f"/ask/{name}" in Read(page.get("/ask").text).links
    shown = page.get(f"/ask/{name}", params={"yard": "orchard"})
    assert shown.status_code == 200
    found = answer(name, ask("2025-10-14", yard="orchard"))
    assert Read(shown.text).names.count("td") == len(found.rows) * len(found.columns)


def test_the_pictures_of_a_page_are_there(page: TestClient) -> None:
    shown = Read(page.get("/ask/mites", params={"hive": "7"}).text)
    (source,) = [link for link in shown.links if "picture" in link]
    drawn = page.get(source)
    assert drawn.headers["content-type"].startswith("image/svg+xml")
    assert "hive 7" in drawn.text


def test_words_of_the_log_are_escaped(page: TestClient, tmp_path: Path) -> None:
    nasty = invented.row(
        "7", "note", "see", "note", "seen", quote='<script>alert("x")</script> ropey'
    )
    last = invented.season()[-1]
    with open_logbook(tmp_path / "log.db") as logbook:
        visit = invented.Visit(last.at.replace(hour=20), "orchard", (nasty,))
        invented.keep_visit(logbook, visit)
    shown = page.get("/ask/search", params={"words": "alert", "hive": '"><script>'})
    assert shown.status_code == 400
    assert "script" not in Read(shown.text).names
    shown = page.get("/ask/search", params={"words": "alert"})
    assert "script" not in Read(shown.text).names
    assert "&lt;script&gt;" in shown.text
    assert shown.text.index("notifiable disease") < shown.text.index("<table>")


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("/ask/feed?hive=99", "There is no hive 99"),
        ("/ask/feed?yard=moon", "There is no yard moon"),
        ("/ask/feed?since=soon", "is not a day"),
        ("/ask/nothing", "There is no question nothing"),
        ("/ask/picture/nothing.svg", "There is no picture nothing"),
    ],
)
def test_what_is_wrong_is_a_sentence(page: TestClient, address: str, says: str) -> None:
    shown = page.get(address)
    assert shown.status_code == 400
    assert says in shown.text.replace("&#x27;", "'")


def test_the_pages_stand_behind_reviews_guard(tmp_path: Path, season_path: Path) -> None:
    from fieldvoice.cli.page import bench_of
    from fieldvoice.review.page.answers import Answers
    from fieldvoice.review.page.app import make_app
    from fieldvoice.review.page.guard import Guard, Keyring

    path = tmp_path / "log.db"
    shutil.copyfile(season_path, path)
    with open_logbook(path) as logbook:
        keyring = Keyring()
        app = Guard(make_app(Answers(bench_of(logbook, path), None)), keyring, ["testserver"])
        client = TestClient(app)
        assert client.get("/ask/feed").status_code == 403
        client.get(f"/enter?token={keyring.new_token()}")
        assert "/ask" in Read(client.get("/").text).links
        shown = client.get("/ask/feed", params={"hive": "7", "on": "2025-10-14"})
        assert shown.status_code == 200
        assert "syrup 1:1" in shown.text
        assert "script-src 'self'" in shown.headers["content-security-policy"]
