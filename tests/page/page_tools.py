"""The page as a keeper has it: the installed command, a logbook, and a browser."""

from __future__ import annotations

import os
import re
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from typing import Any

import httpx
from makers import COMMAND, query

from fieldvoice.hearing.decode import decode, sound_hash
from fieldvoice.locate import shipped
from fieldvoice.logbook.drafts import keep_drafts
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import keep_heard, new_uuid
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.logbook.waveforms import keep_waveform
from fieldvoice.review.waveform import waveform
from fieldvoice.types import (
    Because,
    Entry,
    RecordedAt,
    Recording,
    Segment,
    Stretch,
    Transcript,
    Value,
    Word,
)

SOUND = shipped("demo") / "orchard-may.ogg"
SECONDS = 214.0
AXE = Path(__file__).parent / "axe.min.js"
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
MAY = datetime(2026, 5, 9, 10, 20, tzinfo=timezone(timedelta(hours=2)))  # a Saturday
EVIL = "<img src=x onerror=\"document.title='taken'\"><script>document.title='taken'</script>"

SUN = Entry(None, "weather", "see", "sun", "seen", quote="sunny out here", start=4.0, end=6.0,
            confidence=0.97)  # fmt: skip
SYRUP = Entry(
    "7", "feed", "give", "syrup", "done",
    values=(Value("amount", 2, 2, "quart", said="two quarts"),
            Value("ratio", 1, 1, "sugar:water", said="one to one")),
    quote="gave her two quarts of one to one", start=12.0, end=15.0, confidence=0.97,
)  # fmt: skip
EGGS = Entry("7", "brood", "see", "egg", "seen", quote="saw eggs", start=16.0, end=17.0,
             confidence=0.95)  # fmt: skip
CELLS = Entry(
    "8", "queen", "see", "queen cell", "absent", quote="no queen sells in eight", start=30.0,
    end=32.0, confidence=0.5, flags=("heard-unsurely",),
)  # fmt: skip
NEW = Entry(
    "12", "feed", "give", "fondant", "done", quote="twelve got fondant", start=40.0, end=42.0,
    confidence=0.7, flags=("hive-unknown",),
    because=(Because("hive", "twelve", "hive-unknown"),),
)  # fmt: skip
ROWS = (SUN, SYRUP, EGGS, CELLS, NEW)


@dataclass(frozen=True, slots=True)
class Page:
    """A page that is being served."""

    link: str  # works once
    site: str  # "http://127.0.0.1:port"
    logbook: Path
    key: dict[str, str] = field(default_factory=dict)  # the cookies of who has entered

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        """A client that has entered; its requests carry the page's own Origin."""
        with httpx.Client(base_url=self.site, headers={"origin": self.site}, timeout=30) as client:
            if not self.key:
                assert client.get(self.link).status_code == 303
                self.key.update(client.cookies)
            client.cookies.update(self.key)
            yield client


@contextmanager
def served(logbook: Path, *options: str) -> Iterator[Page]:
    """`fieldvoice review --no-browser` on a logbook, stopped at the end."""
    with subprocess.Popen(
        [COMMAND, "--logbook", logbook, "review", "--no-browser", *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1", "TZ": "Europe/Berlin"},
    ) as process:
        try:
            assert process.stdout is not None
            first = process.stdout.readline()
            found = re.search(r"(http://[^/\s]+)/enter\?token=\S+", first)
            assert found, first + process.stdout.read()
            _wait(found[1])
            yield Page(found[0], found[1], logbook)
        finally:
            process.terminate()
            process.wait(20)


def _wait(site: str) -> None:
    transport = httpx.HTTPTransport(retries=5)
    with httpx.Client(transport=transport, timeout=30) as client:
        assert client.get(f"{site}/").status_code == 403


def heard(entries: Sequence[Entry], extra: str = "") -> Transcript:
    """A transcript that says the quotes at their places; one word of it was doubted."""
    segments = []
    for entry in entries:
        said = entry.quote.split()
        start, end = entry.start or 0.0, entry.end or 1.0
        each = (end - start) / len(said)
        words = tuple(
            Word(w, start + n * each, start + (n + 1) * each, 0.2 if w == "sells" else 0.95)
            for n, w in enumerate(said)
        )
        segments.append(Segment(start, end, entry.quote, words))
    if extra:
        words = tuple(
            Word(w, 60.0 + n * 0.5, 60.5 + n * 0.5, 0.9) for n, w in enumerate(extra.split())
        )
        segments.append(Segment(60.0, 60.0 + len(words) * 0.5, extra, words))
    return Transcript(
        " ".join(s.text for s in segments), "en", "test", "test", SECONDS, tuple(segments),
        speech=(Stretch(3.0, 20.0), Stretch(29.0, 45.0)), unheard=(Stretch(100.0, 104.0),),
    )  # fmt: skip


def make_logbook(
    path: Path,
    entries: Sequence[Entry] = ROWS,
    *,
    sound: Path = SOUND,
    extra: str = "and the robbing guard went onto seven",
    pictured: bool = True,
) -> str:
    """A logbook with hives 7, 8 and 9 and one recording; returns the recording's uuid.

    Its waveform is there as after a first look, which costs a second, unless not `pictured`.
    """
    with open_logbook(path, create=True) as opened:
        for label in ("7", "8", "9"):
            add_hive(opened, label, "home", MAY)
        recording = Recording(
            new_uuid(), sound_hash(SOUND), str(sound), RecordedAt(MAY, "option"), "home",
            SECONDS, "heard",
        )  # fmt: skip
        keep_heard(opened, recording, heard(entries, extra), MAY)
        keep_drafts(opened, recording.uuid, entries, MAY)
        if pictured and sound == SOUND:
            keep_waveform(opened, recording.uuid, _picture())
    return recording.uuid


@cache
def _picture() -> bytes:
    return waveform(decode(SOUND), SECONDS)


def many(number: int) -> list[Entry]:
    """So many rows over twenty hives, every fifth doubtful."""
    made = []
    for n in range(number):
        at = 200.0 * n / number
        row = (SYRUP, EGGS, CELLS, SUN, EGGS)[n % 5]
        flags = ("heard-unsurely",) if n % 5 == 2 else ()
        hive = None if row is SUN else str(7 + n % 3)
        made.append(replace(row, hive=hive, start=at, end=at + 0.4, flags=flags))
    return made


def row(tab: Any, words: str) -> Any:
    return tab.locator(".row", has_text=words)


def go_to(tab: Any, words: str) -> None:
    """Make a row the current one, by keyboard."""
    for _ in range(20):
        if words in (tab.locator(".row.current").text_content() or ""):
            return
        tab.keyboard.press("ArrowDown")
    tab.keyboard.press("ArrowUp")
    for _ in range(20):
        if words in (tab.locator(".row.current").text_content() or ""):
            return
        tab.keyboard.press("ArrowUp")
    raise AssertionError(words)


def log(page: Page) -> list[Any]:
    return query(page.logbook, "SELECT hive, item, status FROM entries ORDER BY hive, item")


def violations(tab: Any) -> list[str]:
    """What axe-core finds against WCAG 2.2 A and AA, and its best practices."""
    tab.evaluate(AXE.read_text(encoding="utf-8"))
    found = tab.evaluate(
        "async (tags) => (await axe.run(document, { runOnly: tags })).violations", AXE_TAGS
    )
    return [f"{v['id']}: {v['nodes'][0]['html'][:150]}" for v in found]


def until(tab: Any, expression: str, seconds: float = 15.0) -> None:
    """Wait until JavaScript is true; asked from outside, for the page's policy allows no eval."""
    end = time.monotonic() + seconds
    while not tab.evaluate(expression):
        assert time.monotonic() < end, expression
        tab.wait_for_timeout(20)
