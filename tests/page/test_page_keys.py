"""The demo's three recordings, reviewed to the end by keyboard, with every key counted.

The keeper is played: they know what was said from `demo/gold/`. Each draft is confirmed if
it is true, mended if one thing about it is wrong, rejected if it was not said; everything
typed counts, letter by letter.
"""

from __future__ import annotations

import json
import os
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from page_tools import COMMAND, query, served
from playwright.sync_api import Browser
from playwright.sync_api import Page as Tab

from fieldvoice.locate import shipped
from fieldvoice.review.fields import field_text
from fieldvoice.types import Entry
from fieldvoice.wire import entry_from_json

MOST_KEYS = 1.3  # for each row
FIELD = {"status": "t", "values": "v", "when": "d"}


@dataclass(slots=True)
class Hands:
    """A keyboard that counts."""

    tab: Tab
    pressed: int = 0

    def press(self, key: str) -> None:
        self.pressed += 1
        self.tab.keyboard.press(key)

    def type(self, text: str) -> None:
        for letter in text:
            self.press(letter)


@pytest.fixture(scope="module")
def demo_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's recordings, heard and drafted by the installed command."""
    import tomllib

    path = tmp_path_factory.mktemp("demo") / "log.db"
    folder = shipped("demo")
    environment = os.environ | {"FIELDVOICE_LOGBOOK": str(path)}
    for yard in tomllib.loads((folder / "yards.toml").read_text(encoding="utf-8"))["yard"]:
        sounds = [str(folder / name) for name in yard["recordings"]]
        for words in (["hives", "add", "--yard", yard["name"], *yard["hives"]],
                      ["add", "--yard", yard["name"], *sounds]):  # fmt: skip
            subprocess.run([COMMAND, *words], check=True, env=environment, capture_output=True)
    return path


def gold_rows(folder: Path) -> dict[str, list[Entry]]:
    """The rows that were really said, by the name of their recording."""
    return {
        path.stem: [
            entry_from_json(row) for row in json.loads(path.read_text(encoding="utf-8"))["entries"]
        ]
        for path in (folder / "gold").glob("*.json")
    }


def drafts(path: Path) -> dict[str, dict[str, Any]]:
    told = subprocess.run(
        [COMMAND, "--logbook", path, "drafts", "--json"], check=True, capture_output=True, text=True
    )
    return {row["id"]: row for row in json.loads(told.stdout)}


def current(tab: Tab) -> str | None:
    row = tab.locator(".row.current")
    return row.get_attribute("data-id") if row.count() else None


def decide(hands: Hands, draft: Entry, said: Sequence[Entry]) -> None:
    """The keys for one decision on the current row."""
    about = [row for row in said if same_item(row.item, draft.item)]
    true = min(about, key=lambda row: len(wrong(draft, row)), default=None)
    fields = wrong(draft, true) if true else []
    if true is None or len(fields) > 1 or fields == ["kind"]:
        hands.press("r")
    elif not fields:
        hands.press("c")
    elif fields == ["hive"]:
        hands.press("h")
        hands.tab.locator("#ask[open]").wait_for()
        hands.type(true.hive or "-")
        hands.press("Enter")
        hands.tab.locator("#ask:not([open])").wait_for(state="attached")
        hands.tab.locator(f".row.current[data-hive='{true.hive or ''}']").wait_for()
        hands.press("c")
    else:
        mend(hands, fields[0], draft, true)


def mend(hands: Hands, field: str, draft: Entry, true: Entry) -> None:
    """Change one field in place: only the numbers that are wrong are typed."""
    hands.press(FIELD[field])
    hands.tab.locator("form.edit").wait_for()
    if field == "status":
        hands.press(true.status[0])
    elif field == "when":
        hands.press("Delete") if true.when is None else hands.type(field_text(true, "when"))
    else:
        known = {(v.role, v.lo, v.hi, v.unit) for v in true.values}
        missing = [v for v in true.values if (v.role, v.lo, v.hi, v.unit) not in
                   {(w.role, w.lo, w.hi, w.unit) for w in draft.values}]  # fmt: skip
        for place, value in enumerate(draft.values):
            if (value.role, value.lo, value.hi, value.unit) not in known:
                text = (
                    field_text(replace(true, values=(missing.pop(0),)), "values") if missing else ""
                )
                hands.type(text) if text else hands.press("Delete")
            if place < len(draft.values) - 1 or missing:
                hands.press("Tab")
        for value in missing:
            hands.type(field_text(replace(true, values=(value,)), "values"))
    hands.press("Enter")


def wrong(draft: Entry, true: Entry) -> list[str]:
    """The fields in which a draft is not what was said."""

    def numbers(entry: Entry) -> list[tuple[Any, ...]]:
        return sorted((v.role, v.lo, v.hi, v.unit or "") for v in entry.values)

    return [
        name
        for name, right in (
            ("hive", draft.hive == true.hive),
            ("kind", draft.kind == true.kind),
            ("status", draft.status == true.status),
            ("values", numbers(draft) == numbers(true)),
            ("when", draft.when == true.when),
        )
        if not right
    ]


def same_item(labelled: str, drafted: str) -> bool:
    """Whether the draft's item is one of the words that the label allows."""
    return any(drafted in word or word in drafted for word in labelled.split("|"))


@pytest.mark.model
def test_three_recordings_by_keyboard(
    demo_log: Path, browser: Browser, capsys: pytest.CaptureFixture[str]
) -> None:
    gold, found = gold_rows(shipped("demo")), drafts(demo_log)
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    with served(demo_log) as page:
        tab = context.new_page()
        hands = Hands(tab)
        tab.goto(page.link)
        hands.press("Enter")
        for number in range(len(gold)):
            tab.wait_for_selector("html[data-ready=yes]")
            _review(hands, found, gold)
            tab.locator("#finished").wait_for()
            if number + 1 < len(gold):
                before = tab.url
                hands.press("g")
                tab.wait_for_url(lambda url, before=before: url != before)
        states = dict(query(demo_log, "SELECT state, count(*) FROM drafts GROUP BY state"))
    context.close()
    each = hands.pressed / len(found)
    with capsys.disabled():
        print(f"\n{len(found)} rows, {hands.pressed} key presses: {each:.2f} a row; {states}")
    assert states.get("waiting", 0) == 0
    assert each <= MOST_KEYS


def _review(hands: Hands, found: dict[str, dict[str, Any]], gold: dict[str, list[Entry]]) -> None:
    """Row by row as the page leads: the doubtful ones first, then the others."""
    while hands.tab.locator("#finished").count() == 0:
        uuid = current(hands.tab)
        assert uuid is not None
        draft = found[uuid]
        decide(hands, entry_from_json(draft), gold[Path(draft["path"]).stem])
        hands.tab.locator(f"#r-{uuid}:not(.waiting):not(.saving)").wait_for(state="attached")
