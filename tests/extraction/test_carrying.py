"""Labels carried over to heard words, as models/extraction/carrying.py does for training."""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "models" / "extraction"))

from carrying import carry

NARRATIONS = sorted((Path(__file__).parents[1] / "narrations").glob("*.json"))


@pytest.mark.parametrize("path", NARRATIONS, ids=lambda p: p.stem)
def test_what_was_heard_right_keeps_every_row_and_value(path):
    narration = json.loads(path.read_text(encoding="utf-8"))
    carried = carry(narration, narration["id"], narration["text"], Counter())
    for before, after in zip(narration["entries"], carried["entries"], strict=True):
        assert [lowered(v) for v in after["values"]] == [lowered(v) for v in before["values"]]
        assert after["flags"] == before["flags"]
        assert after["quote"] == before["quote"].strip(" .,?!…")


def lowered(value: dict) -> dict:
    return value | {"said": value["said"].lower()}


def narration(text: str, *rows: dict) -> dict:
    blank = {"hive": "7", "action": "see", "status": "seen", "values": [], "flags": []}
    return {"id": "x", "text": text, "entries": [blank | row for row in rows]}


def value(said: str, number: float, unit: str) -> dict:
    return {"role": "count", "lo": number, "hi": number, "unit": unit, "said": said}


def test_a_misheard_trade_word_is_respelled_and_digits_are_the_same_number():
    said = narration(
        "Hive seven looks good to me. Capped brood on fifty-two frames of the whole yard here.",
        {"kind": "brood", "item": "capped brood", "quote": "Capped brood on fifty-two frames",
         "values": [value("fifty-two frames", 52, "frame")]},
    )  # fmt: skip
    heard = "Hive 7 looks good to me. Kept brewed on 52 frames of the whole yard here."
    (row,) = carry(said, "y", heard, Counter())["entries"]
    assert row["quote"] == "Kept brewed on 52 frames"
    assert row["flags"] == ["respelled"]
    assert [v["said"] for v in row["values"]] == ["52 frames"]


def test_another_number_goes_and_the_row_stays():
    said = narration(
        "Hive seven looks good to me today, and I gave her fifteen pounds of sugar on the top.",
        {"kind": "feed", "item": "sugar", "quote": "I gave her fifteen pounds of sugar",
         "values": [value("fifteen pounds", 15, "pound")]},
    )  # fmt: skip
    heard = "Hive 7 looks good to me today, and I gave her 50 pounds of sugar on the top."
    (row,) = carry(said, "y", heard, Counter())["entries"]
    assert row["quote"] == "I gave her 50 pounds of sugar"
    assert row["values"] == []


def test_rows_whose_thing_was_lost_go():
    said = narration(
        "Hive seven is a very fine colony, and I saw the queen on frame two in the sun today.",
        {"kind": "queen", "item": "queen", "quote": "I saw the queen on frame two"},
    )
    heard = "Hive 7 is a very fine colony, and I saw them on frame 2 in the sun today."
    assert carry(said, "y", heard, Counter())["entries"] == []


def test_a_narration_heard_too_badly_goes():
    said = narration("Saw the queen on frame two and eggs on five.")
    assert carry(said, "y", "So a green home frame to an extra fine.", Counter()) is None
