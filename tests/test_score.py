"""The extractor on the labelled narrations, through the installed command, by the scorer."""

from __future__ import annotations

import sys
from pathlib import Path

from evaluate import HOLD_OUT, measure, reliability
from score import Tally, count, run, score

# A little under what was measured; the development narrations are also learnt from, the
# hold-out is not.
STRICT_F1, LOOSE_F1, VALUES_RIGHT, SILENT, IDLE_FLAGS = 0.95, 0.97, 0.96, 0.02, 0.15
HOLD_OUT_STRICT_F1, HOLD_OUT_SILENT, CALIBRATION_ERROR = 0.80, 0.04, 0.05

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
    assert tally.loose_f1 >= LOOSE_F1, tally.line()
    assert tally.values_right >= VALUES_RIGHT, tally.line()
    assert tally.silent_share <= SILENT, tally.line()
    assert tally.flagged_right / tally.plain <= IDLE_FLAGS, tally.line()


def test_floors_on_the_hold_out() -> None:
    tally, kept = measure(HOLD_OUT)
    error, _ = reliability(kept.pairs)
    print(tally.line(), f"calibration error {error:.3f}")
    assert len(HOLD_OUT) == 28
    assert tally.strict_f1 >= HOLD_OUT_STRICT_F1, tally.line()
    assert tally.silent_share <= HOLD_OUT_SILENT, tally.line()
    assert error <= CALIBRATION_ERROR


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
