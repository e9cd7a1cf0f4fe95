"""What extraction must reach on labelled narrations, clean text; `python -m tests.evaluate` prints more."""

from __future__ import annotations

import pytest

from tests.evaluate import DEVELOPMENT, HOLD_OUT, measure, reliability


@pytest.mark.model
def test_development_narrations_come_out_right() -> None:
    """A little under what was measured; the model that is shipped has learnt from them too."""
    assert len(DEVELOPMENT) == 32
    tally, _ = measure(DEVELOPMENT)
    print(tally.line())
    assert tally.strict_f1 >= 0.95
    assert tally.loose_f1 >= 0.97
    assert tally.values_right >= 0.97
    assert tally.silent_share <= 0.02
    assert tally.flagged_right / tally.plain <= 0.15


@pytest.mark.model
def test_narrations_that_nothing_was_learnt_from_come_out_right() -> None:
    assert len(HOLD_OUT) == 28
    tally, kept = measure(HOLD_OUT)
    print(tally.line())
    assert tally.strict_f1 >= 0.82
    assert tally.silent_share <= 0.04
    error, _ = reliability(kept.pairs)
    assert error <= 0.05
