"""The extractor on the labelled narrations, through the installed command, by the scorer."""

from __future__ import annotations

import sys
from pathlib import Path

from score import Tally, count, run, score

STRICT_F1 = 0.50
VALUES_RIGHT = 0.80

NARRATIONS = sorted((Path(__file__).parent / "narrations").glob("d*.json"))
COMMAND = (
    f"{Path(sys.executable).parent / 'fieldvoice'} extract {{text}} "
    "--recorded-at {date} --register {register} --json"
)


def test_floors_on_the_narrations() -> None:
    tally = score(NARRATIONS, lambda narration: run(COMMAND, narration, None))
    print(tally.line())
    assert len(NARRATIONS) == 32
    assert tally.strict_f1 >= STRICT_F1, tally.line()
    assert tally.values_right >= VALUES_RIGHT, tally.line()


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
