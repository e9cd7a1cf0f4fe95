"""The command starts quickly, whatever is installed beside it."""

from __future__ import annotations

import statistics

from keeper import Call

HELP_SECONDS = 0.3


def test_help_is_quick(fieldvoice: Call) -> None:
    calls = [fieldvoice("--help") for _ in range(5)]
    assert all(done.code == 0 and "Questions to the log:" in done.out for done in calls)
    assert statistics.median(done.seconds for done in calls) < HELP_SECONDS
