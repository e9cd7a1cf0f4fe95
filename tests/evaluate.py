"""The whole evaluation in one command: python -m tests.evaluate (from the top folder).

Rows on the development narrations (the model has learnt from them) and on the hold-out
(nobody has), the reliability of the confidence on the hold-out, speed, and the number and
date cases. --show prints each miss of the development narrations; the hold-out's stay unseen.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE / "quantities")]

from score import Tally, pair, score  # noqa: E402

from fieldvoice.extraction.extract import extract  # noqa: E402
from fieldvoice.types import Register  # noqa: E402
from fieldvoice.wire import entry_to_json  # noqa: E402

Row = dict[str, Any]
DEVELOPMENT = sorted((HERE / "narrations").glob("d*.json"))
HOLD_OUT = sorted((HERE / "narrations" / "holdout").glob("h*.json"))
BINS = 10


def drafts(narration: Row) -> list[Row]:
    """The drafts of a labelled narration's text."""
    at = datetime.fromisoformat(narration["recorded_at"])
    rows = extract(narration["text"], at, Register(tuple(narration["register"])))
    return [entry_to_json(row) for row in rows]


class Kept:
    """Runs the extractor and keeps, per narration, what it gave and how long it took."""

    def __init__(self) -> None:
        self.pairs: list[tuple[float, bool]] = []  # confidence, strictly right
        self.words = 0
        self.seconds = 0.0

    def __call__(self, narration: Row) -> list[Row]:
        start = time.perf_counter()
        got = drafts(narration)
        self.seconds += time.perf_counter() - start
        self.words += len(narration["text"].split())
        right = {j for v, _, j in pair(narration["entries"], got) if v["strict"]}
        self.pairs += [(row["confidence"], j in right) for j, row in enumerate(got)]
        return got


def reliability(
    pairs: Sequence[tuple[float, bool]],
) -> tuple[float, list[tuple[float, float, int]]]:
    """Expected calibration error, and per tenth: mean confidence, share right, drafts."""
    error, table = 0.0, []
    for n in range(BINS):
        inside = [(c, ok) for c, ok in pairs if min(int(c * BINS), BINS - 1) == n]
        if inside:
            said = sum(c for c, _ in inside) / len(inside)
            right = sum(ok for _, ok in inside) / len(inside)
            error += abs(said - right) * len(inside) / len(pairs)
            table.append((said, right, len(inside)))
    return error, table


def measure(paths: Sequence[Path]) -> tuple[Tally, Kept]:
    """Score the extractor on narrations."""
    kept = Kept()
    return score(paths, kept), kept


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--show", action="store_true")
    options = parser.parse_args()
    drafts({"text": "Hive 1.", "recorded_at": "2026-05-01T09:00", "register": ["1"]})  # load
    tally, kept = measure(DEVELOPMENT)
    print("development:", tally.line())
    if options.show:
        print("\n".join(tally.misses))
    tally, kept = measure(HOLD_OUT)
    print("hold-out:   ", tally.line())
    error, table = reliability(kept.pairs)
    print(f"confidence on the hold-out: expected calibration error {error:.3f}")
    for said, right, count in table:
        print(f"  said {said:.2f}, right {right:.2f}, {count} drafts")
    print(f"speed: {kept.words / kept.seconds:.0f} words a second on one core")
    from quantities.score import score_quantities
    from quantities.score import table as quantities_table

    print(quantities_table(score_quantities()))


if __name__ == "__main__":
    main()
