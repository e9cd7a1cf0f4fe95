"""A phone hands in a recording: in pieces, broken off and gone on with, heard at the end."""

from __future__ import annotations

import base64
import shutil
import sys
import time
from collections import namedtuple
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from makers import query
from page_tools import Page, make_logbook, served, violations
from playwright.sync_api import Page as Tab

from fieldvoice.errors import InputError, RecordingError
from fieldvoice.review.page.handing_in import MOST, PIECE, SPARE, HandingIn

sys.path.insert(0, str(Path(__file__).parent.parent / "hearing"))
from hearing_sounds import load, write

DEMO = Path(__file__).parent.parent.parent / "demo" / "orchard-may.ogg"
BYTES = bytes(range(256)) * 1100  # more than two pieces
ABOUT = {"name": "Visit 9.m4a", "size": len(BYTES), "modified": 1_778_314_800_000}


@pytest.fixture
def handing(tmp_path: Path) -> HandingIn:
    return HandingIn(tmp_path / "recordings", lambda path: f"{path.stat().st_size} bytes heard")


def piece(handing: HandingIn, at: int, data: bytes | None = None) -> int:
    cut = BYTES[at : at + PIECE] if data is None else data
    text = base64.b64encode(cut).decode()
    return int(handing.piece(ABOUT | {"at": at, "data": text})["have"])


def said(handing: HandingIn) -> str:
    for _ in range(100):
        if told := handing.state(ABOUT)["said"]:
            return str(told)
        time.sleep(0.05)
    raise AssertionError("nothing was said")


def test_a_file_comes_whole_with_its_time(handing: HandingIn) -> None:
    have = handing.begin(ABOUT)["have"]
    while have < len(BYTES):
        have = piece(handing, have)
    assert handing.done(ABOUT) == {"have": len(BYTES)}
    (kept,) = handing.folder.iterdir()
    assert kept.read_bytes() == BYTES
    assert (kept.suffix, kept.stat().st_mtime) == (".m4a", 1_778_314_800)
    assert said(handing) == f"{len(BYTES)} bytes heard"


def test_after_a_break_it_goes_on_where_it_was(handing: HandingIn) -> None:
    piece(handing, 0)
    again = HandingIn(handing.folder, handing.take)  # fieldvoice was started anew
    assert again.begin(ABOUT)["have"] == PIECE


def test_pieces_twice_early_or_too_long_change_nothing(handing: HandingIn) -> None:
    handing.begin(ABOUT)
    assert piece(handing, PIECE) == 0
    assert piece(handing, 0) == PIECE
    assert piece(handing, 0) == PIECE
    assert piece(handing, PIECE, BYTES + BYTES) == PIECE
    assert handing.done(ABOUT) == {"have": PIECE}


def test_the_same_file_again_is_not_sent_again(handing: HandingIn) -> None:
    have = handing.begin(ABOUT)["have"]
    while have < len(BYTES):
        have = piece(handing, have)
    handing.done(ABOUT)
    said(handing)
    assert handing.begin(ABOUT)["have"] == len(BYTES)
    assert len(list(handing.folder.iterdir())) == 1


@pytest.mark.parametrize(
    "name", ["../../.bashrc", "..\\evil.wav", "/etc/passwd", "\x00.m4a", "..."]
)
def test_a_name_leads_nowhere_else(handing: HandingIn, name: str) -> None:
    about = {"name": name, "size": 3, "modified": 0}
    handing.begin(about)
    handing.piece(about | {"at": 0, "data": base64.b64encode(b"abc").decode()})
    handing.done(about)
    (kept,) = (p for p in handing.folder.rglob("*") if p.is_file())
    assert kept.parent == handing.folder
    assert not kept.name.startswith(".")


def test_what_is_no_recording_is_told(tmp_path: Path) -> None:
    def refuse(path: Path) -> str:
        raise RecordingError("there is no sound in it")

    handing = HandingIn(tmp_path, refuse)
    have = handing.begin(ABOUT)["have"]
    while have < len(BYTES):
        have = piece(handing, have)
    handing.done(ABOUT)
    assert said(handing) == "there is no sound in it"


@pytest.mark.parametrize(
    ("about", "why"),
    [
        ({"name": "a.wav", "size": MOST + 1, "modified": 0}, "longer than this page takes"),
        ({"name": "a.wav", "size": 0, "modified": 0}, "no length"),
        ({"size": 5, "modified": 0}, "no name"),
    ],
)
def test_what_cannot_be_taken_is_refused(page: Page, about: dict[str, Any], why: str) -> None:
    with page.client() as client:
        refused = client.post("/hand-in/begin", json=about)
    assert refused.status_code == 422
    assert why in refused.json()["problem"]


def test_room_stays_free_on_the_disk(handing: HandingIn, monkeypatch: pytest.MonkeyPatch) -> None:
    """What comes is counted as it is promised, whether it was announced or not."""
    usage = namedtuple("usage", "free")
    for free, taken in ((SPARE + len(BYTES), True), (SPARE + len(BYTES) - 1, False)):
        monkeypatch.setattr(shutil, "disk_usage", lambda _, free=free: usage(free))
        if taken:
            assert handing.begin(ABOUT)["have"] == 0
            continue
        with pytest.raises(InputError, match="There is no room"):
            handing.begin(ABOUT)
        with pytest.raises(InputError, match="There is no room"):
            piece(handing, 0)
    assert list(handing.folder.iterdir()) == []


def test_nobody_else_can_hand_in(page: Page) -> None:
    with page.client() as client:
        evil = client.post("/hand-in/begin", json=ABOUT, headers={"origin": "http://evil.example"})
        assert evil.status_code == 403
        client.cookies.clear()
        assert client.post("/hand-in/begin", json=ABOUT).status_code == 403


def test_from_the_phone_to_the_drafts(
    tmp_path: Path, context: Any, opened: Callable[..., Tab]
) -> None:
    clip = write(tmp_path / "visit.wav", load(DEMO)[: 16_000 * 20], "pcm_s16le")
    path = tmp_path / "log" / "log.db"
    path.parent.mkdir()
    make_logbook(path)
    with served(path) as page:
        tab = opened(page)
        tab.goto(f"{page.site}/")
        tab.get_by_role("link", name="Hand in").click()
        tab.wait_for_selector("html[data-ready=yes]")
        assert violations(tab) == []
        assert tab.locator("#record").get_attribute("capture") is not None
        tab.set_input_files("#choose", clip)
        tab.wait_for_selector("text=/draft.* for review/", timeout=90_000)
        (kept,) = (path.parent / "recordings").iterdir()
        assert kept.read_bytes() == clip.read_bytes()
    rows = query(path, "SELECT count(*) FROM recordings")
    assert rows == [(2,)]
