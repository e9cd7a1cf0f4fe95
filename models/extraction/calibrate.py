"""Fit the confidence on narrations that the models had not seen.

    python models/extraction/calibrate.py --folds FOLDER NARRATION.json...

FOLDER holds fold0, fold1, ... of train.py --folds: models and, in left_out.json, the ids of
the narrations that each was not trained on. Every draft of those becomes one observation:
its evidence, and whether it is strictly right. The fitted numbers go to confidence.json.
"""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.linear_model import LogisticRegression

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(Path(__file__).parent)]

import score  # noqa: E402 - the project's scorer stands in tests/
from prepare import read  # noqa: E402

from fieldvoice.extraction import nlp, rows  # noqa: E402
from fieldvoice.extraction.confidence import Confidence, evidence  # noqa: E402
from fieldvoice.extraction.encoder import load_model  # noqa: E402
from fieldvoice.extraction.extract import extract  # noqa: E402
from fieldvoice.types import Register  # noqa: E402
from fieldvoice.wire import entry_to_json  # noqa: E402

KEEP_FROM = 0.15  # below it, fewer than one draft in seven is right
TOKENIZER = Path(__file__).parent / "tokenizer.json"


def observe(doc: dict[str, Any], folder: Path) -> list[tuple[dict[str, float], bool, bool]]:
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
        (seen[int(row.confidence)], j in right, bool(row.flags)) for j, row in enumerate(drafts)
    ]


def _recording(seen: list[dict[str, float]]) -> Any:
    """A stand-in for judge() that keeps the evidence; the confidence is its number."""
    from fieldvoice.extraction.confidence import judge

    def stand_in(
        candidates: Any, fact: Any, span: Any, values: Any, line: Any, transcript: Any, rule: Any
    ) -> Any:
        _, flags = judge(candidates, fact, span, values, line, transcript, rule)
        seen.append(evidence(candidates, fact, span, 1.0))
        return len(seen) - 1, tuple(f for f in flags if not f.startswith("unsure-"))

    return stand_in


def fit(seen: list[tuple[dict[str, float], bool, bool]], anchor: float, idle: float) -> Confidence:
    """The logistic weights, and the bar under which a draft is flagged: at most `idle` of the right ones."""
    names = sorted({n for e, _, _ in seen for n in e} - {"heard"})
    x = np.array([[e.get(n, 0.0) for n in names] for e, _, _ in seen])
    y = np.array([right for _, right, _ in seen])
    size = x.std(axis=0) + 1e-9
    model = LogisticRegression(C=0.1, max_iter=5000).fit(x / size, y)
    weights = model.coef_[0] / size
    p = model.predict_proba(x / size)[:, 1]
    free = y & ~np.array([flagged for _, _, flagged in seen])
    bar = float(np.quantile(p[free], idle))
    silent = float(((p >= bar) & ~y & ~np.array([f for _, _, f in seen])).sum() / len(y))
    print(
        f"{len(y)} drafts, {y.mean():.3f} right; bar {bar:.3f}, wrong without a flag {silent:.3f}"
    )
    for share in (0.05, 0.1, 0.15, 0.2, 0.25, 0.3):
        b = float(np.quantile(p[free], share))
        print(
            f"  flagging {share:.2f} of the right ones: silent {float(((p >= b) & ~y).sum() / len(y)):.3f}"
        )
    for low in np.arange(0, 1, 0.1):
        inside = (p >= low) & (p < low + 0.1)
        if inside.any():
            print(
                f"  {low:.1f}-{low + 0.1:.1f}: said {p[inside].mean():.2f} is {y[inside].mean():.2f} ({inside.sum()})"
            )
    heard = {
        "heard": 0.15
    }  # a word in doubt costs; from the recogniser's word probability, not fitted here
    return Confidence(
        anchor,
        KEEP_FROM,
        bar,
        float(model.intercept_[0]) - 0.15 * 6.0,
        {**dict(zip(names, map(float, weights), strict=True)), **heard},
    )


def main() -> None:
    """Observe every fold and write the fit."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("narrations", nargs="+", type=Path)
    parser.add_argument("--folds", type=Path, required=True)
    parser.add_argument(
        "--idle", type=float, default=0.3, help="share of right drafts that may be flagged"
    )
    parser.add_argument("--anchor", type=float, default=0.3)
    options = parser.parse_args()
    docs = {doc["id"]: doc for p in options.narrations for doc in read(p)}
    seen = []
    for folder in sorted(options.folds.glob("fold*")):
        if not (folder / "tokenizer.json").exists():
            shutil.copy(TOKENIZER, folder)
        for name in json.loads((folder / "left_out.json").read_text()):
            seen += observe(docs[name], folder)
    best = fit(seen, options.anchor, options.idle)
    out = {
        "anchor": best.anchor,
        "keep_from": best.keep_from,
        "flag_below": best.flag_below,
        "bias": best.bias,
        "weights": best.weights,
    }
    (Path(__file__).parent / "confidence.json").write_text(json.dumps(out, indent=1) + "\n")


if __name__ == "__main__":
    main()
