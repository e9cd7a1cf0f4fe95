"""Answers stay quick on a log of ten thousand rows a year.

The bar (150 ms a question, 50 ms a search on 100,000 rows) is measured by
tests/benchmarks/big_log.py; here twice of it, by the processor's clock, guards against a
question that reads the whole log.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
from big_log import build, questions, timed

from fieldvoice.logbook.opening import open_logbook


def test_no_question_reads_more_than_it_needs(tmp_path: Path) -> None:
    path = tmp_path / "big.db"
    assert build(path, rows=10_000, years=1) >= 10_000
    with open_logbook(path) as logbook:
        took = {
            name: timed(call, time.process_time, 3) for name, call in questions(logbook).items()
        }
    slow = {
        name: ms for name, ms in took.items() if ms > (100 if name.startswith("search") else 300)
    }
    assert slow == {}
