"""Fit the confidence on narrations that the models had not seen.

    python models/extraction/calibrate.py --folds FOLDER --settle MODEL NARRATIONS...

FOLDER holds fold0, fold1, ... of train.py --folds: models and, in left_out.json, the ids of
the narrations that each was not trained on. Every draft of those becomes one observation:
its evidence, and whether it is strictly right. A model that learnt from fewer narrations is
right less often, so scale and shift of the score are settled last on MODEL, which learnt
from all but those of its left_out.json. The numbers go to confidence.json,
its hash to SHA256SUMS.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sklearn.linear_model import LogisticRegression

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(Path(__file__).parent)]

import score  # noqa: E402 - the project's scorer stands in tests/
from prepare import read  # noqa: E402
from seal import seal  # noqa: E402

from fieldvoice.extraction import nlp, rows  # noqa: E402
from fieldvoice.extraction.confidence import SURELY, evidence  # noqa: E402
from fieldvoice.extraction.encoder import load_model  # noqa: E402
from fieldvoice.extraction.extract import extract  # noqa: E402
from fieldvoice.types import Register  # noqa: E402
from fieldvoice.wire import entry_to_json  # noqa: E402

ANCHOR = 0.3  # a token states a fact from this probability on
HEARD = 0.15  # weight of the log odds of the least sure word, if below SURELY; not fitted
Seen = tuple[dict[str, float], bool, bool]  # evidence, strictly right, flagged for another reason
KEEP_FROM = 0.15  # below it, fewer than one draft in seven is right
TOKENIZER = Path(__file__).parent / "tokenizer.json"


def observe(doc: dict[str, Any], folder: Path) -> list[Seen]:
    """Evidence, rightness, and whether the draft carries another flag, of one narration."""
    model = load_model(folder)
    nlp.load_model = lambda: model  # type: ignore[attr-defined]
    seen: list[dict[str, float]] = []
    rows.judge = _recording(seen)  # type: ignore[attr-defined]
    at = datetime.fromisoformat(doc["recorded_at"])
    drafts = extract(doc["text"], at, Register(tuple(doc["register"])))
    got = [entry_to_json(row) for row in drafts]
    right = {j for verdict, _, j in score.pair(doc["entries"], got) if verdict["strict"]}
    return [
        (seen[int(row.confidence) - 1], j in right, bool(row.flags)) for j, row in enumerate(drafts)
    ]


def _recording(seen: list[dict[str, float]]) -> Any:
    """A stand-in for judge() that keeps the evidence; the confidence is its number."""
    from fieldvoice.extraction.confidence import judge

    def stand_in(
        candidates: Any, fact: Any, span: Any, values: Any, line: Any, transcript: Any, rule: Any
    ) -> Any:
        _, flags = judge(candidates, fact, span, values, line, transcript, rule)
        seen.append(evidence(candidates, fact, span, 1.0))
        return len(seen), tuple(f for f in flags if not f.startswith("unsure-"))

    return stand_in


def columns(seen: Sequence[Seen], names: Sequence[str]) -> NDArray[np.float64]:
    """The evidence as a matrix."""
    return np.array([[e.get(n, 0.0) for n in names] for e, _, _ in seen])


def fit(seen: Sequence[Seen]) -> tuple[dict[str, float], float]:
    """Logistic weights and bias: how much each piece of evidence says."""
    names = sorted({n for e, _, _ in seen for n in e} - {"heard"})
    x, y = columns(seen, names), np.array([right for _, right, _ in seen])
    size = x.std(axis=0) + 1e-9
    model = LogisticRegression(C=0.1, max_iter=5000).fit(x / size, y)
    return dict(zip(names, map(float, model.coef_[0] / size), strict=True)), float(
        model.intercept_[0]
    )


def settle(
    seen: Sequence[Seen], weights: dict[str, float], bias: float
) -> tuple[float, float, NDArray[np.float64]]:
    """Scale and shift of the score for a model that has learnt from all but these drafts."""
    score = columns(seen, list(weights)) @ np.array(list(weights.values())) + bias
    y = np.array([right for _, right, _ in seen])
    line = LogisticRegression(C=1e6).fit(score[:, None], y)
    scale, shift = float(line.coef_[0, 0]), float(line.intercept_[0])
    return scale, shift, 1 / (1 + np.exp(-(scale * score + shift)))


def bar_for(seen: Sequence[Seen], p: NDArray[np.float64], silent: float) -> float:
    """The lowest confidence without a flag that leaves so small a share wrong and unflagged."""
    y = np.array([right for _, right, _ in seen])
    flagged = np.array([other for _, _, other in seen])
    for bar in np.arange(0.3, 0.95, 0.01):
        left = float(((p >= bar) & ~y & ~flagged).mean())
        if left <= silent:
            idle = float(((p < bar) & y & ~flagged).sum() / max(1, (y & ~flagged).sum()))
            print(f"bar {bar:.2f}: wrong without a flag {left:.3f}, right with one {idle:.3f}")
            return float(round(bar, 2))
    raise SystemExit("no bar leaves so few wrong drafts without a flag")


def show(p: NDArray[np.float64], y: NDArray[np.bool_]) -> None:
    """The reliability table."""
    for low in np.arange(0, 1, 0.1):
        inside = (p >= low) & (p < low + 0.1)
        if inside.any():
            print(f"  said {p[inside].mean():.2f} is {y[inside].mean():.2f} ({inside.sum()})")


def main() -> None:
    """Observe, fit, settle, write."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("narrations", nargs="+", type=Path)
    parser.add_argument("--folds", type=Path, required=True)
    parser.add_argument("--settle", type=Path, required=True)
    parser.add_argument("--silent", type=float, default=0.045)
    options = parser.parse_args()
    docs = {doc["id"]: doc for p in options.narrations for doc in read(p)}
    seen = [one for folder in sorted(options.folds.glob("fold*")) for one in unseen(folder, docs)]
    weights, bias = fit(seen)
    last = unseen(options.settle, docs)
    scale, shift, p = settle(last, weights, bias)
    print(f"{len(seen)} drafts to fit, {len(last)} to settle; scale {scale:.2f}, shift {shift:.2f}")
    show(p, np.array([right for _, right, _ in last]))
    out = {
        "anchor": ANCHOR,
        "keep_from": KEEP_FROM,
        "flag_below": bar_for(last, p, options.silent),
        # a word in doubt costs, one that is sure costs nothing
        "bias": bias * scale + shift - HEARD * float(np.log(SURELY / (1 - SURELY))),
        "weights": {n: w * scale for n, w in weights.items()} | {"heard": HEARD},
    }
    (Path(__file__).parent / "confidence.json").write_text(json.dumps(out, indent=1) + "\n")
    seal(Path(__file__).parent)


def unseen(folder: Path, docs: dict[str, dict[str, Any]]) -> list[Seen]:
    """The drafts of the narrations that a model was not trained on."""
    if not (folder / "tokenizer.json").exists():
        shutil.copy(TOKENIZER, folder)
        seal(folder)
    names = json.loads((folder / "left_out.json").read_text())
    return [one for name in names for one in observe(docs[name], folder)]


if __name__ == "__main__":
    main()
