"""The fact model: what each token of a narration is, by a small trained encoder.

The encoder (int8 ONNX) turns word pieces and the rules' findings into one state per
token; small heads, kept as arrays, read everything off the states. Trained by
models/extraction/train.py, which defines the same network.
"""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fieldvoice.errors import ModelError
from fieldvoice.extraction.candidates import FEATURE_SIZES
from fieldvoice.extraction.checked import checked, model_folder
from fieldvoice.extraction.places import places

if TYPE_CHECKING:
    from fieldvoice.extraction.candidates import Candidates

Array = NDArray[np.float32]
WINDOW = 300  # tokens encoded at once
OVERLAP = 60  # tokens of context on either side of what is kept of a window
MOST_PIECES = 510  # the encoder's positions, less its two marks


@dataclass(frozen=True, slots=True)
class Reading:
    """What the model says of a narration; n tokens, f facts, m mentions, d dates, q numbers."""

    anchor: Array  # [n] probability that the token states a fact
    facts: tuple[int, ...]  # tokens that do
    kind: Array  # [f, kinds] probabilities, likewise below
    action: Array  # [f, actions]
    status: Array  # [f, statuses]
    item: Array  # [f, items]; the first is "the thing that is named"
    hive: Array  # [f, m + 2]; the last two are "none" and "all hives"
    date: Array  # [f, d + 1]; the last is "none", likewise below
    owner: Array  # [q, f + 1]
    role: Array  # [q, roles]
    unit: Array  # [q, units]; the first is "as said"


@dataclass(frozen=True, slots=True)
class FactModel:
    """The loaded model: an encoder session, its pieces, the heads and their classes."""

    session: Any
    tokenizer: Any
    heads: dict[str, Array]
    classes: dict[str, list[str]]


_LOADED = ("encoder.onnx", "heads.npz", "vocabulary.json", "tokenizer.json")


@cache
def load_model(folder: Path | None = None) -> FactModel:
    """Load the model once.

    Raises:
        ModelError: a file of the model is missing, not the one it should be, or cannot be read.
    """
    import onnxruntime
    from tokenizers import Tokenizer

    folder = folder or model_folder()
    encoder, arrays, words, pieces = (checked(folder / name) for name in _LOADED)
    try:
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        session = onnxruntime.InferenceSession(encoder, options, providers=["CPUExecutionProvider"])
        with np.load(io.BytesIO(arrays), allow_pickle=False) as loaded:
            heads = {name: loaded[name].astype(np.float32) for name in loaded.files}
        classes = json.loads(words)
        tokenizer = Tokenizer.from_str(pieces.decode())
    except Exception as error:
        raise ModelError(
            f"The fact model in {folder} cannot be loaded ({error}); install fieldvoice again."
        ) from error
    return FactModel(session, tokenizer, heads, classes)


def read_facts(candidates: Candidates, model: FactModel, threshold: float) -> Reading:
    """Everything the model says of a narration; `threshold` decides which tokens are facts."""
    h = _states(candidates, model)
    w = model.heads
    fact = _hidden(h, w, "fact")
    anchor = _sigmoid(_linear(fact, w, "anchor")[:, 0])
    facts = [int(i) for i in np.flatnonzero(anchor >= threshold)]
    at, sentences = fact[facts], [t.sentence for t in candidates.document.tokens]
    mentions = [(m.first, m.last) for m in candidates.mentions]
    dates = [(d.first, d.last) for d in candidates.dates]
    numbers = [(q.first, q.last) for q in candidates.quantities]
    spans = [(i, i + 1) for i in facts]
    q = _pooled(h, numbers)
    hidden = _hidden(q, w, "number")
    return Reading(
        anchor,
        tuple(facts),
        **{name: _softmax(_linear(at, w, f"of_fact.{name}")) for name in _FACT_HEADS},
        hive=_point(w, "hive", h[facts], _pooled(h, mentions), places(facts, mentions, sentences)),
        date=_point(w, "date", h[facts], _pooled(h, dates), places(facts, dates, sentences)),
        owner=_point(w, "value", q, h[facts], places([a for a, _ in numbers], spans, sentences)),
        role=_softmax(_linear(hidden, w, "of_number.role")),
        unit=_softmax(_linear(hidden, w, "of_number.unit")),
    )


_FACT_HEADS = ("kind", "action", "status", "item")


# --- states ---------------------------------------------------------------------


def _states(candidates: Candidates, model: FactModel) -> Array:
    """One state per token, from overlapping windows."""
    words = [t.low for t in candidates.document.tokens]
    features = candidates.features()
    size = int(model.heads["anchor.weight"].shape[1])
    out = np.zeros((len(words), size), np.float32)
    for first, last, keep_first, keep_last in _windows(len(words)):
        states = _encode(model, words[first:last], features[first:last])
        out[keep_first:keep_last] = states[keep_first - first : keep_last - first]
    return out


def _windows(count: int) -> list[tuple[int, int, int, int]]:
    """(first, last, first kept, last kept) of each window, tokens."""
    if count <= WINDOW:
        return [(0, count, 0, count)] if count else []
    step = WINDOW - 2 * OVERLAP
    out = []
    for keep in range(0, count, step):
        last = min(count, keep + step)
        out.append((max(0, keep - OVERLAP), min(count, last + OVERLAP), keep, last))
    return out


def _encode(model: FactModel, words: Sequence[str], features: Sequence[Sequence[int]]) -> Array:
    ids, rows, starts = [101], [[0] * len(FEATURE_SIZES)], []
    coded = model.tokenizer.encode_batch(list(words), add_special_tokens=False)
    for one, feature in zip(coded, features, strict=True):
        pieces = one.ids[:6] or [100]
        starts.append(min(len(ids), MOST_PIECES - 1))
        ids += pieces
        rows += [list(feature)] * len(pieces)
    ids, rows = [*ids[:MOST_PIECES], 102], [*rows[:MOST_PIECES], [0] * len(FEATURE_SIZES)]
    feed = {
        "pieces": np.array([ids], np.int64),
        "features": np.array([rows], np.int64),
        "mask": np.ones((1, len(ids)), np.int64),
    }
    states: Array = model.session.run(None, feed)[0][0]
    return states[starts]


# --- heads ------------------------------------------------------------------------


def _linear(x: Array, w: dict[str, Array], name: str) -> Array:
    out: Array = x @ w[f"{name}.weight"].T + w[f"{name}.bias"]
    return out


def _hidden(x: Array, w: dict[str, Array], name: str) -> Array:
    """A linear layer and the exact GELU of the training network."""
    y = _linear(x, w, f"{name}.0")
    out: Array = 0.5 * y * (1.0 + _erf(y / np.float32(2**0.5)))
    return out.astype(np.float32)


def _erf(x: Array) -> Array:
    """The error function to 1.5e-7: Abramowitz and Stegun, formula 7.1.26."""
    t = 1.0 / (1.0 + 0.3275911 * np.abs(x))
    poly = t * (
        0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    out: Array = (np.sign(x) * (1.0 - poly * np.exp(-x * x))).astype(np.float32)
    return out


def _pooled(h: Array, spans: Sequence[tuple[int, int]]) -> Array:
    if not spans:
        return np.zeros((0, h.shape[1]), np.float32)
    return np.stack([h[a:b].mean(0) for a, b in spans])


def _point(
    w: dict[str, Array], name: str, query: Array, keys: Array, where: NDArray[np.int64]
) -> Array:
    p = f"pointers.{name}"
    q, k = _linear(query, w, f"{p}.query"), _linear(keys, w, f"{p}.key")
    score = q @ k.T / np.float32(q.shape[1] ** 0.5)
    for number, table in enumerate(("far", "sentence", "between")):
        score = score + w[f"{p}.{table}.weight"][where[..., number], 0]
    return _softmax(np.concatenate([score, _linear(query, w, f"{p}.none")], axis=1))


def _softmax(x: Array) -> Array:
    if not x.size:
        return x
    e = np.exp(x - x.max(axis=1, keepdims=True))
    out: Array = e / e.sum(axis=1, keepdims=True)
    return out


def _sigmoid(x: Array) -> Array:
    out: Array = (1.0 / (1.0 + np.exp(-x))).astype(np.float32)
    return out
