"""What extraction must reach on labelled narrations, clean text; `python -m tests.evaluate` prints more."""

from __future__ import annotations

import pytest

from tests.evaluate import DEVELOPMENT, HOLD_OUT, measure, reliability


@pytest.mark.model
def test_development_narrations_come_out_right() -> None:
    tally, _ = measure(DEVELOPMENT)
    print(tally.line())
    assert tally.strict_f1 >= 0.90
    assert tally.loose_f1 >= 0.95
    assert tally.values_right >= 0.97
    assert tally.silent_share <= 0.02


@pytest.mark.model
def test_narrations_that_nothing_was_learnt_from_come_out_right() -> None:
    tally, kept = measure(HOLD_OUT)
    print(tally.line())
    assert tally.strict_f1 >= 0.82
    assert tally.silent_share <= 0.04
    error, _ = reliability(kept.pairs)
    assert error <= 0.05
