"""The demo's three recordings, reviewed to the end by keyboard, with every key counted.

The keeper is played: they know what was said from `demo/gold/`. Each draft is confirmed if
it is true, mended if one thing about it is wrong, rejected if it was not said; everything
typed counts, letter by letter.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import score
from page_tools import COMMAND, query, served
from playwright.sync_api import Browser
from playwright.sync_api import Page as Tab

from fieldvoice.cli.page import days_of_words
from fieldvoice.locate import shipped
from fieldvoice.review.fields import field_text
from fieldvoice.review.page.typed import read_entry
from fieldvoice.review.vocabulary import things
from fieldvoice.types import KINDS, STATUSES, Entry, Value
from fieldvoice.wire import entry_from_json, entry_to_json

BAR = 1.3  # key presses for each row: what is aimed at
FLOOR = 2.5  # what must not be lost: where most drafts are flagged and many wrong, it costs more
FORM = ("item", "status", "action", "kind", "hive", "values", "when")
"""The fields in the order in which Tab goes through them."""


@dataclass(slots=True)
class Hands:
    """A keyboard that counts."""

    tab: Tab
    pressed: int = 0
    last_hive: str | None = None
    day: date = date.min  # of the recording

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


def decide(hands: Hands, draft: Entry, true: Entry | None) -> None:
    """The keys for one decision on the current row; what is wrong is mended, never left.

    The form takes one number more than the row has: a row that lacks two is rejected.
    """
    fields = wrong(draft, true) if true else []
    if true is None or len(true.values) > len(draft.values) + 1:
        hands.press("r")
    elif not fields:
        hands.press("c")
    elif fields == ["hive"]:
        give(hands, true.hive)
    else:
        mend(hands, fields, draft, true)


def give(hands: Hands, hive: str | None) -> None:
    """To another hive; the same as the last one is one key."""
    label = hive or "-"
    if label == hands.last_hive:
        hands.press("o")
        return
    hands.last_hive = label
    hands.press("h")
    hands.tab.locator("#ask[open]").wait_for()
    hands.type(label if any(c.isdigit() for c in label[0]) else label[0])
    hands.press("Enter")


def mend(hands: Hands, fields: list[str], draft: Entry, true: Entry) -> None:
    """Open the form at the first wrong field, go through the others by Tab, save by Enter."""
    first = fields[0]
    keys = {"item": "e", "status": "t", "kind": "i", "hive": "v", "values": "v", "when": "d"}
    hands.press(keys[first])
    hands.tab.locator("form.edit").wait_for()
    at = FORM.index("values" if first == "hive" else first)
    for field in fields:
        place = FORM.index(field)
        for _ in range(place - at):
            hands.press("Tab")
        for _ in range(at - place):
            hands.press("Shift+Tab")
        at = place
        if field in ("status", "kind"):
            hands.type(shortest(getattr(true, field), STATUSES if field == "status" else KINDS))
        elif field == "item":
            hands.type(item_of(true))
        elif field == "hive":
            hands.type(true.hive) if true.hive else hands.press("Delete")
        elif field == "when":
            type_days(hands, draft, true)
        else:
            steps = type_values(hands, draft, true)
            at += 1 if "when" in fields else 0
            for _ in range(len(draft.values) + 1 - steps if "when" in fields else 0):
                hands.press("Tab")
    hands.press("Enter")


def item_of(true: Entry) -> str:
    return min(true.item.split("|"), key=len)


def shortest(word: str, words: Sequence[str]) -> str:
    """The letters that find a word in a list that is chosen from by typing."""
    size = 1
    while next(one for one in words if one.startswith(word[:size])) != word:
        size += 1
    return word[:size]


def type_days(hands: Hands, draft: Entry, true: Entry) -> None:
    """The shortest way to say the day that the page reads as the day meant."""
    if true.when is None:
        hands.press("Delete")
        return
    day = true.when.to or true.when.from_
    whole = field_text(true, "when")
    ways = [str(day.day), f"{day:%A}", f"{day.day} {day:%B}"] if day else []
    row = replace(draft, status=true.status)
    for way in (*ways, whole):
        read, problems = read_entry(row, {"when": way}, hands.day, days_of_words)
        if not problems and read.when == true.when:
            hands.type(way)
            return
    raise AssertionError(whole)


def type_values(hands: Hands, draft: Entry, true: Entry) -> int:
    """Only what is wrong is typed; returns how many inputs further the cursor is."""

    def same(one: Value, other: Value) -> bool:
        return bool(score.same_value(_raw(one), _raw(other)))

    missing = [v for v in true.values if not any(same(v, w) for w in draft.values)]
    steps = 0
    for place, value in enumerate(draft.values):
        if not any(same(value, v) for v in true.values):
            alike = next((v for v in missing if (v.role, v.unit) == (value.role, value.unit)), None)
            new = alike or (missing[0] if missing else None)
            if new:
                missing.remove(new)
                hands.type(typed(new, value, draft))
            else:
                hands.press("Delete")
        left = any(not any(same(w, v) for v in true.values) for w in draft.values[place + 1 :])
        if left or missing:
            hands.press("Tab")
            steps += 1
    for number, value in enumerate(missing):
        assert number == 0, "the form has one empty input"
        hands.type(typed(value, None, replace(draft, item=true.item)))
    return steps


def _raw(value: Value) -> dict[str, Any]:
    return {"lo": value.lo, "hi": value.hi, "unit": value.unit}


def typed(value: Value, old: Value | None, row: Entry) -> str:
    """The shortest text that the page reads as this number."""
    whole = field_text(replace(row, values=(value,)), "values")
    bare = whole.partition(" ")[2]
    before = replace(row, values=(old,) if old else ())
    number, unit = bare.removesuffix(f" {value.unit}"), value.unit or ""
    dash = number.replace(" to ", "-")
    for text in (
        dash,
        number,
        f"{dash}%" if unit == "percent" else number,
        f"{dash}{unit}",
        f"{dash} {unit}",
        bare,
    ):
        read, problems = read_entry(before, {"values": [text]}, date.min, days_of_words)
        if not problems and score.same_value(_raw(value), _raw(read.values[0])):
            return text
    return whole


def labels_of(
    found: dict[str, dict[str, Any]], gold: dict[str, list[Entry]]
) -> dict[str, Entry | None]:
    """The labelled row of each draft as the scorer pairs them; None: it was not said, or twice."""
    labels: dict[str, Entry | None] = dict.fromkeys(found)
    for name, said in gold.items():
        mine = [uuid for uuid, draft in found.items() if Path(draft["path"]).stem == name]
        rows = [entry_to_json(entry) for entry in said]
        for _, label, draft in score.pair(rows, [found[uuid] for uuid in mine]):
            labels[mine[draft]] = said[label]
    return labels


def wrong(draft: Entry, true: Entry) -> list[str]:
    """The fields in which a draft is not what was said, by the rules of the scorer.

    With another thing comes its kind.
    """
    named = score.same_item(true.item, draft.item)
    kind = draft.kind if named else things().get(item_of(true), draft.kind)
    got, gold = entry_to_json(draft), entry_to_json(true)
    return [
        name
        for name, right in (
            ("item", named),
            ("status", draft.status == true.status),
            ("kind", kind == true.kind),
            ("hive", draft.hive == true.hive),
            ("values", score.values_right(gold, got) and len(draft.values) <= len(true.values)),
            ("when", score.when_right(gold, got)),
        )
        if not right
    ]


@pytest.mark.model
@pytest.mark.parametrize("looked_at", ["doubtful", "all"])
def test_three_recordings_by_keyboard(
    demo_log: Path,
    browser: Browser,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    looked_at: str,
) -> None:
    """Two evenings: the keeper decides on each doubtful row and takes the rest in one act, as
    the page leads (the bar), or looks at every row and mends what is wrong (counted, no bar)."""
    path = tmp_path / "log.db"
    shutil.copy(demo_log, path)
    found = drafts(path)
    labels = labels_of(found, gold_rows(shipped("demo")))
    context = browser.new_context(viewport={"width": 1366, "height": 768})
    with served(path) as page:
        tab = context.new_page()
        hands = Hands(tab)
        tab.goto(page.link)  # opens on the first recording that waits
        for number in range(3):
            tab.wait_for_selector("html[data-ready=yes]")
            review(hands, found, labels, everything=looked_at == "all")
            if number < 2:
                before = tab.url
                hands.press("g")
                tab.wait_for_url(lambda url, before=before: url != before)
        states = dict(query(path, "SELECT state, count(*) FROM drafts GROUP BY state"))
    context.close()
    each = hands.pressed / len(found)
    with capsys.disabled():
        print(f"\n{looked_at} rows looked at: {len(found)} rows, {hands.pressed} key presses, "
              f"{each:.2f} a row (bar {BAR}); {states}")  # fmt: skip
    assert states.get("waiting", 0) == 0
    if looked_at == "doubtful":
        assert each <= FLOOR


def review(
    hands: Hands,
    found: dict[str, dict[str, Any]],
    labels: dict[str, Entry | None],
    *,
    everything: bool,
) -> None:
    """Row by row as the page leads, the doubtful first; what is left in as few acts as can be."""
    tab = hands.tab
    while tab.locator("#finished").count() == 0:
        left = tab.evaluate(
            """[...document.querySelectorAll('.row.waiting')].map((row) =>
            [row.dataset.id, row.dataset.hive, row.classList.contains('doubtful')])"""
        )
        uuid = current(tab)
        here = next(hive for row, hive, _ in left if row == uuid)
        doubtful = any(flagged for _, _, flagged in left)

        def right(uuids: Iterable[str]) -> bool:
            return not everything or all(_right(found[one], labels[one]) for one in uuids)

        if not doubtful and right(row for row, _, _ in left):
            hands.press("a")
            tab.locator("#finished").wait_for()
        elif not doubtful and right(row for row, hive, _ in left if hive == here):
            hands.press("b")
            tab.locator(f"section[data-hive='{here}'] .row.waiting").first.wait_for(
                state="detached"
            )
        else:
            draft = found[str(uuid)]
            entry = entry_from_json(draft)
            hands.day = datetime.fromisoformat(draft["recorded_at"]).date()
            decide(hands, entry, labels[str(uuid)])
            done = f"#r-{uuid}:not(.waiting):not(.saving)"
            tab.locator(done).wait_for(state="attached")


def _right(draft: dict[str, Any], label: Entry | None) -> bool:
    return label is not None and not wrong(entry_from_json(draft), label)
