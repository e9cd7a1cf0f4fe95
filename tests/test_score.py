"""The scorer; and the installed command gives the rows that the tests of extraction score."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from tests.evaluate import DEVELOPMENT, drafts
from tests.score import Tally, count, run

COMMAND = (
    f"{Path(sys.executable).parent / 'fieldvoice'} extract {{text}} "
    "--recorded-at {date} --register {register} --json"
)


@pytest.mark.model
def test_the_command_gives_the_rows_that_are_scored() -> None:
    for path in DEVELOPMENT[::11]:
        narration = json.loads(path.read_text(encoding="utf-8"))
        rows = run(COMMAND, narration, None)
        assert rows
        assert rows == drafts(narration)


ROW = {
    "hive": "7", "kind": "feed", "action": "give", "item": "syrup|sugar syrup", "status": "done",
    "values": [{"role": "amount", "lo": 2, "hi": 2, "unit": "quart"}], "flags": [],
}  # fmt: skip


def scored(gold: list[dict], got: list[dict]) -> Tally:
    tally = Tally()
    count(tally, "case", gold, got)
    return tally


def test_the_scorer_knows_right_from_wrong() -> None:
    half_gallon = {"role": "amount", "lo": 0.5, "hi": 0.5, "unit": "gallon"}
    assert scored([ROW], [ROW | {"item": "syrup", "values": [half_gallon]}]).strict_f1 == 1
    wrong_hive = scored([ROW], [ROW | {"hive": "8"}])
    assert (wrong_hive.strict, wrong_hive.loose, wrong_hive.silent) == (0, 0, 1)
    flagged = scored([ROW], [ROW | {"values": [], "flags": ["out-of-range"]}])
    assert (flagged.loose, flagged.strict, flagged.silent, flagged.right_values) == (1, 0, 0, 0)
    assert scored([ROW], []).strict_f1 == scored([], [ROW]).strict_f1 == 0
