"""How likely is this text, given this sound? Whisper's decoder, asked instead of run.

Beam search finds one text. To weigh every label of a register against the others, the
decoder must score texts that are given (teacher forcing). CTranslate2 offers that only
with the encoder's output copied for each text; here all texts of one place are packed
into one sequence instead, so that cross-attention is computed once. The decoder is
Radford et al. 2022, as in openai-whisper's model.py, in float32 on the CPU, whichever
engine made the encoder's output.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldvoice.hearing import convert

Array = NDArray[np.float32]


@dataclass(slots=True)
class _Block:
    """One decoder layer's weights by their names in Whisper."""

    weights: dict[str, Array]

    def linear(self, name: str, x: Array) -> Array:
        out: Array = x @ self.weights[f"{name}.weight"].T
        bias = self.weights.get(f"{name}.bias")
        return out if bias is None else out + bias

    def norm(self, name: str, x: Array) -> Array:
        return _norm(x, self.weights[f"{name}.weight"], self.weights[f"{name}.bias"])


class TextDecoder:
    """Whisper's text decoder, read from CTranslate2's file."""

    def __init__(self, folder: Path) -> None:
        arrays = convert.read_model_bin(folder / "model.bin")
        self.heads = convert.dimensions(arrays)["n_text_head"]
        state = {
            name.removeprefix("decoder."): np.ascontiguousarray(array, np.float32)
            for name, array in convert.state_dict(arrays).items()
            if name.startswith("decoder.")
        }
        self.embedding = state.pop("token_embedding.weight")
        self.positions = state.pop("positional_embedding")
        self.ln = state.pop("ln.weight"), state.pop("ln.bias")
        self.blocks: list[_Block] = []
        while any(name.startswith(f"blocks.{len(self.blocks)}.") for name in state):
            start = f"blocks.{len(self.blocks)}."
            self.blocks.append(
                _Block({k.removeprefix(start): v for k, v in state.items() if k.startswith(start)})
            )

    def listen(self, encoded: Array, tokens: Sequence[int]) -> Scene:
        """Keep the encoder's output (frames x width) and read `tokens` against it."""
        return Scene(self, encoded, tokens)

    def split(self, x: Array) -> Array:
        """(length, width) to (heads, length, width of a head)."""
        return x.reshape(len(x), self.heads, -1).transpose(1, 0, 2)


ROOT = -1
ROWS = 64  # tokens whose chances are worked out at a time: some 10,000 numbers each
# Byte pairs are numbered by how often they were met. The sum of all chances is taken over the
# commonest, the window's own, and the signs above the words: a fifth of the vocabulary, which
# misses a hundredth of a nat in most places (median 0.001, nine in ten under 0.1).
COMMON = 8192
SIGNS = 50_256  # from here on: the end of the text, languages, tasks, time stamps


class _Tree:
    """Token sequences as one tree: parent, token and depth of each node, a path per text."""

    def __init__(self, texts: Sequence[Sequence[int]]) -> None:
        known: dict[tuple[int, int], int] = {}
        self.parent: list[int] = []
        self.token: list[int] = []
        self.depth: list[int] = []
        self.paths: list[list[int]] = []
        for text in texts:
            at, path = ROOT, []
            for token in text:
                node = known.setdefault((at, token), len(self.parent))
                if node == len(self.parent):
                    self.parent.append(at)
                    self.token.append(token)
                    self.depth.append(0 if at == ROOT else self.depth[at] + 1)
                at = node
                path.append(node)
            self.paths.append(path)
        self.inner = sorted({p for p in self.parent if p != ROOT})

    @property
    def ancestors(self) -> NDArray[np.bool_]:
        """Whether a node (row) may look at another (column): itself and those above it."""
        seen = np.eye(len(self.parent), dtype=bool)
        for node, parent in enumerate(self.parent):
            if parent != ROOT:
                seen[node] |= seen[parent]
        return seen


class Scene:
    """One window's sound with the text read so far; asks what could stand next."""

    def __init__(self, decoder: TextDecoder, encoded: Array, tokens: Sequence[int]) -> None:
        self._decoder = decoder
        self._cross = [
            (
                decoder.split(block.linear("cross_attn.key", encoded)),
                decoder.split(block.linear("cross_attn.value", encoded)),
            )
            for block in decoder.blocks
        ]
        self._past: list[tuple[Array, Array]] = []
        self._tokens = list(tokens)
        self._own = {token for token in tokens if COMMON <= token < SIGNS}
        counted = [*sorted(self._own), *range(SIGNS, len(decoder.embedding))]
        self._counted = decoder.embedding[counted]
        positions = np.arange(len(self._tokens))
        mask = positions[None, :] <= positions[:, None]
        self._hidden, self._past = self._run(self._tokens, positions, mask, None, 0)

    def scores(self, after: int, texts: Sequence[Sequence[int]]) -> list[float]:
        """Natural-log probability of each text, said after `after` tokens, as near as COMMON allows.

        Texts that begin alike share that work: they are one tree, of which only the inner
        nodes have to be run, since nothing follows the last token of a text.
        """
        tree = _Tree(texts)
        inner = tree.inner
        hidden = self._hidden[after - 1 : after]
        if inner:
            mask = tree.ancestors[np.ix_(inner, inner)]
            tokens = [tree.token[i] for i in inner]
            places = after + np.array([tree.depth[i] for i in inner])
            run, _ = self._run(tokens, places, mask, self._past, after)
            hidden = np.concatenate([hidden, run])
        row = {node: i + 1 for i, node in enumerate(inner)} | {ROOT: 0}
        above = [row[parent] for parent in tree.parent]
        logits = np.einsum("nw,nw->n", hidden[above], self._decoder.embedding[tree.token])
        total = self._total(hidden)[above]
        outside = np.array([COMMON <= t < SIGNS and t not in self._own for t in tree.token], bool)
        total[outside] = np.logaddexp(total[outside], logits[outside])
        own = logits - total
        return [float(own[path].sum()) for path in tree.paths]

    def _total(self, hidden: Array) -> Array:
        """The logarithm of the sum over the tokens that count, for each row."""
        out = np.empty(len(hidden), np.float32)
        for first in range(0, len(hidden), ROWS):
            rows = hidden[first : first + ROWS]
            logits = np.concatenate(
                [rows @ self._decoder.embedding[:COMMON].T, rows @ self._counted.T], axis=1
            )
            most = logits.max(axis=1)
            logits -= most[:, None]
            out[first : first + ROWS] = most + np.log(np.exp(logits, out=logits).sum(axis=1))
        return out

    def compare(self, after: int, tokens: Sequence[int]) -> list[float]:
        """Scores of single tokens after `after` tokens, right but for one number added to all.

        Without the sum over the whole vocabulary, which takes most of the time.
        """
        found: list[float] = (
            self._decoder.embedding[list(tokens)] @ self._hidden[after - 1]
        ).tolist()
        return found

    def _run(
        self,
        tokens: Sequence[int],
        positions: NDArray[Any],
        mask: NDArray[np.bool_],
        past: list[tuple[Array, Array]] | None,
        keep: int,
    ) -> tuple[Array, list[tuple[Array, Array]]]:
        """Through all layers; `past` is cut to `keep` tokens and seen by every token."""
        decoder = self._decoder
        x = decoder.embedding[list(tokens)] + decoder.positions[positions]
        seen = []
        for i, block in enumerate(decoder.blocks):
            y = block.norm("attn_ln", x)
            query, key, value = (
                decoder.split(block.linear(f"attn.{n}", y)) for n in ("query", "key", "value")
            )
            seen.append((key, value))
            allowed = mask
            if past is not None:
                key = np.concatenate([past[i][0][:, :keep], key], axis=1)
                value = np.concatenate([past[i][1][:, :keep], value], axis=1)
                allowed = np.concatenate([np.ones((len(mask), keep), bool), mask], axis=1)
            x = x + block.linear("attn.out", _attend(query, key, value, allowed))
            y = decoder.split(block.linear("cross_attn.query", block.norm("cross_attn_ln", x)))
            x = x + block.linear("cross_attn.out", _attend(y, *self._cross[i], None))
            y = block.linear("mlp.0", block.norm("mlp_ln", x))
            x = x + block.linear("mlp.2", _gelu(y))
        return _norm(x, *decoder.ln), seen


def _attend(query: Array, key: Array, value: Array, allowed: NDArray[np.bool_] | None) -> Array:
    """Scaled dot-product attention; heads joined again."""
    weights = (query * query.shape[-1] ** -0.5) @ key.transpose(0, 2, 1)
    if allowed is not None:
        weights = np.where(allowed, weights, -np.inf)
    weights = np.exp(weights - weights.max(axis=-1, keepdims=True))
    weights /= weights.sum(axis=-1, keepdims=True)
    out: Array = (weights @ value).transpose(1, 0, 2)
    return out.reshape(len(out), -1)


def _norm(x: Array, weight: Array, bias: Array) -> Array:
    """Layer normalisation, epsilon 1e-5 as in Whisper."""
    x = x - x.mean(axis=-1, keepdims=True)
    out: Array = x / np.sqrt((x * x).mean(axis=-1, keepdims=True) + 1e-5) * weight + bias
    return out


def _gelu(x: Array) -> Array:
    """x * Phi(x); erf by Abramowitz and Stegun 7.1.26, error below 1.5e-7."""
    z = np.abs(x) * np.float32(0.5**0.5)
    t = 1 / (1 + np.float32(0.3275911) * z)
    poly = t * (
        0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))
    )
    erf = np.copysign(1 - poly * np.exp(-z * z), x)
    out: Array = (0.5 * x * (1 + erf)).astype(np.float32)
    return out
