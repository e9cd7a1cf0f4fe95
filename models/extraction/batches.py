"""Prepared narrations, varied and packed into flat tensors, one block per batch.

All narrations of a batch share one list of tokens, facts, mentions, dates and numbers;
masks keep the pointers of each inside its own narration. So every head runs once a batch.
"""

from __future__ import annotations

import pickle
import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch
from tokenizers import Tokenizer
from torch import Tensor

from fieldvoice.extraction.candidates import FEATURE_SIZES
from fieldvoice.extraction.places import places
from fieldvoice.number_words import ONES, TEENS, TENS
from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES

NUMBERS = [*(w for w, n in ONES.items() if n), *TEENS, *(w for w in TENS if w != "fourty")]
SPANS = ("mentions", "quantities", "dates")
MASK = "[MASK]"
ENDS = (".", "?", "!", "...")


# --- variety: what the keeper and the recogniser may do differently ------------


@dataclass(frozen=True)
class Variety:
    """How often each kind of variation is made; shares of narrations, or of words."""

    numbers: float = 0.6
    digits: float = 0.3
    cropped: float = 0.3
    joined: float = 0.4  # with a piece of another narration
    masked: float = 0.04  # of words
    unfound: float = 0.05  # of things that the lexicon is made to miss


def varied(
    example: dict[str, Any],
    rng: random.Random,
    how: Variety = Variety(),
    others: Sequence[dict[str, Any]] = (),
) -> dict[str, Any]:
    """A copy with other numbers, lost punctuation, wrong words, or cut and joined."""
    ex = _spoken(example, rng, how)
    if others and rng.random() < how.joined:
        return joined(crop(ex, rng), crop(_spoken(rng.choice(others), rng, how), rng))
    return crop(ex, rng) if rng.random() < how.cropped else ex


def _spoken(example: dict[str, Any], rng: random.Random, how: Variety) -> dict[str, Any]:
    ex: dict[str, Any] = pickle.loads(pickle.dumps(example))
    if rng.random() < how.numbers:
        _other_numbers(ex, rng)
    if rng.random() < how.digits:
        ex["words"] = [
            str(NUMBERS.index(w.lower()) + 1)
            if w.lower() in NUMBERS[:20] and rng.random() < 0.8
            else w
            for w in ex["words"]
        ]
    _missed(ex, rng, how.unfound)
    return without(ex, _slips(ex, rng, how.masked))


def joined(first: dict[str, Any], second: dict[str, Any]) -> dict[str, Any]:
    """One narration after the other, as if one keeper had said both."""
    n = len(first["words"])
    shift = {key: len(first[key]) for key in SPANS}
    last = first["sentences"][-1] + 1 if n else 0
    rows = [
        row
        | {
            "anchor": row["anchor"] + n,
            "hive": [i + shift["mentions"] for i in row["hive"]],
            "dates": [i + shift["dates"] for i in row["dates"]],
            "values": [[v[0] + shift["quantities"], *v[1:]] for v in row["values"]],
        }
        for row in second["rows"]
    ]
    base = second["sentences"][0] if second["sentences"] else 0
    return {
        "words": first["words"] + second["words"],
        "features": first["features"] + second["features"],
        "sentences": first["sentences"] + [s - base + last for s in second["sentences"]],
        **{key: first[key] + [[a + n, b + n] for a, b in second[key]] for key in SPANS},
        "rows": first["rows"] + rows,
    }


def _missed(ex: dict[str, Any], rng: random.Random, share: float) -> None:
    """Take out what the lexicon found, as for a word that it does not have."""
    if not share:
        return
    i = 0
    while i < len(ex["words"]):
        last = i
        while last < len(ex["words"]) and ex["features"][last][0] == ex["features"][i][0]:
            last += 1
        if ex["features"][i][0] and rng.random() < share:
            for k in range(i, last):
                ex["features"][k] = [0, *ex["features"][k][1:]]
        i = last


def _other_numbers(ex: dict[str, Any], rng: random.Random) -> None:
    """Each number another one throughout; two hives never become the same one."""
    mapping: dict[str, str] = {}
    words = ex["words"]
    for first, last in ex["mentions"] + ex["quantities"]:
        for i in range(first, last):
            low = words[i].lower()
            if low not in mapping:
                free = [w for w in _alike(low) if w not in mapping.values()]
                mapping[low] = rng.choice(free) if free else low
            words[i] = mapping[low] if mapping[low] != low else words[i]


def _alike(word: str) -> list[str]:
    """Numbers that may stand in place of this one; none for what is no number."""
    if word in NUMBERS:
        return NUMBERS[:12] if word in NUMBERS[:12] else NUMBERS[12:]
    if word.isdecimal():
        low, high = (1, 12) if int(word) <= 12 else (13, 99)
        return [str(n) for n in range(low, high + 1)]
    return []


def _slips(ex: dict[str, Any], rng: random.Random, masked: float) -> set[int]:
    """Change a few words in place; return the tokens to drop."""
    held = {r["anchor"] for r in ex["rows"]}
    for key in SPANS:
        held |= {i for a, b in ex[key] for i in range(a, b)}
    drop: set[int] = set()
    style, words = rng.random(), ex["words"]
    for i, w in enumerate(words):
        if i in held:
            continue
        x = rng.random()
        if w in (",", ";"):
            if style < 0.12 or x < 0.08:
                drop.add(i)
        elif w in ENDS:
            if style < 0.06 or x < 0.03:
                drop.add(i)
            elif w == "." and x < 0.08:
                words[i] = ","
        elif x < 0.01:
            drop.add(i)
        elif x < 0.02:
            words[i] = rng.choice(words)
        elif x < 0.02 + masked:
            words[i] = MASK
    return drop


def without(ex: dict[str, Any], drop: set[int]) -> dict[str, Any]:
    """The example without some tokens, all indices moved."""
    new, keep = [], []
    for i in range(len(ex["words"]) + 1):
        new.append(len(keep))
        if i < len(ex["words"]) and i not in drop:
            keep.append(i)
    for key in ("words", "features"):
        ex[key] = [ex[key][i] for i in keep]
    sentence, ex["sentences"] = 0, []
    for w in ex["words"]:
        ex["sentences"].append(sentence)
        sentence += w in ENDS
    for key in SPANS:
        ex[key] = [[new[a], max(new[a] + 1, new[b])] for a, b in ex[key]]
    for row in ex["rows"]:
        row["anchor"] = new[row["anchor"]]
    return ex


def crop(ex: dict[str, Any], rng: random.Random) -> dict[str, Any]:
    """A piece between two sentence ends, so that no place in the recording is special."""
    n = len(ex["words"])
    starts = [0] + [i + 1 for i, w in enumerate(ex["words"]) if w == "." and i + 1 < n]
    a = rng.choice(starts)
    b = rng.choice([s for s in starts if s > a + 60] + [n])
    if b - a < 40:
        return ex
    maps: dict[str, dict[int, int]] = {}
    for key in SPANS:
        kept = [(i, s) for i, s in enumerate(ex[key]) if a <= s[0] and s[1] <= b]
        maps[key] = {i: j for j, (i, _) in enumerate(kept)}
        ex[key] = [[s[0] - a, s[1] - a] for _, s in kept]
    ex["words"], ex["features"] = ex["words"][a:b], ex["features"][a:b]
    ex["sentences"] = [s - ex["sentences"][a] for s in ex["sentences"][a:b]]
    ex["rows"] = [_moved(row, a, maps) for row in ex["rows"] if a <= row["anchor"] < b]
    return ex


def _moved(row: dict[str, Any], a: int, maps: dict[str, dict[int, int]]) -> dict[str, Any]:
    moved = dict(row)
    moved["anchor"] = row["anchor"] - a
    moved["hive"] = [maps["mentions"][i] for i in row["hive"] if i in maps["mentions"]]
    moved["dates"] = [maps["dates"][i] for i in row["dates"] if i in maps["dates"]]
    known = maps["quantities"]
    moved["values"] = [[known[v[0]], *v[1:]] for v in row["values"] if v[0] in known]
    return moved


# --- packing ----------------------------------------------------------------------


class Pieces:
    """Word pieces of words, remembered."""

    def __init__(self, path: Path) -> None:
        self.tokenizer = Tokenizer.from_file(str(path))
        self.tokenizer.no_padding()
        self.tokenizer.no_truncation()
        self.cache: dict[str, list[int]] = {}

    def of(self, word: str) -> list[int]:
        """At most six pieces, as the tool takes them."""
        if word not in self.cache:
            known = word.upper() if word == MASK.lower() else word
            ids = self.tokenizer.encode(known, add_special_tokens=False).ids[:6]
            self.cache[word] = ids or [100]
        return self.cache[word]

    def encode(
        self, ex: dict[str, Any], limit: int = 510
    ) -> tuple[list[int], list[list[int]], list[int]]:
        """Ids and features per piece, and where each word starts."""
        none = [0] * len(FEATURE_SIZES)
        ids, feats, starts = [101], [none], []
        for word, feature in zip(ex["words"], ex["features"], strict=True):
            pieces = self.of(word.lower())
            starts.append(min(len(ids), limit - 1))
            ids += pieces
            feats += [feature] * len(pieces)
        return [*ids[:limit], 102], [*feats[:limit], none], starts


class Narrations(torch.utils.data.Dataset[dict[str, Tensor]]):
    """Step n is a batch of varied narrations; the same seed gives the same batches."""

    def __init__(
        self,
        examples: list[dict[str, Any]],
        vocab: dict[str, list[str]],
        pieces: Pieces,
        *,
        steps: int,
        size: int,
        seed: int,
        how: Variety,
    ) -> None:
        self.examples, self.vocab, self.pieces = examples, vocab, pieces
        self.how = how
        self.size, self.steps, self.seed = size, steps, seed
        rng = random.Random(seed)
        self.order: list[int] = []
        while len(self.order) < steps * size:
            epoch = list(range(len(examples)))
            rng.shuffle(epoch)
            self.order += epoch

    def __len__(self) -> int:
        return self.steps

    def __getitem__(self, step: int) -> dict[str, Tensor]:
        rng = random.Random(self.seed * 1_000_003 + step)
        chosen = self.order[step * self.size : (step + 1) * self.size]
        batch = [varied(self.examples[i], rng, self.how, self.examples) for i in chosen]
        return pack(batch, self.vocab, self.pieces)


def pack(
    batch: list[dict[str, Any]], vocab: dict[str, list[str]], pieces: Pieces
) -> dict[str, Tensor]:
    """One flat set of tensors for a batch; see the module's docstring."""
    coded = [pieces.encode(ex) for ex in batch]
    longest = max(len(ids) for ids, _, _ in coded)
    ids = np.zeros((len(batch), longest), np.int64)
    feats = np.zeros((len(batch), longest, len(FEATURE_SIZES)), np.int64)
    mask = np.zeros((len(batch), longest), np.int64)
    words: list[int] = []
    base: list[int] = []
    for i, (p, f, starts) in enumerate(coded):
        ids[i, : len(p)], feats[i, : len(p)], mask[i, : len(p)] = p, f, 1
        base.append(len(words))
        words += [i * longest + s for s in starts]
    out = {"pieces": ids, "features": feats, "mask": mask, "words": np.array(words)}
    rows = [(n, r) for n, ex in enumerate(batch) for r in ex["rows"]]
    anchors = [base[n] + r["anchor"] for n, r in rows]
    gold = np.zeros(len(words), np.float32)
    gold[anchors] = 1
    out |= {"gold": gold, "anchors": np.array(anchors, np.int64)}
    for name, classes in (("kind", KINDS), ("action", ACTIONS), ("status", STATUSES)):
        out[name] = np.array([classes.index(r[name]) for _, r in rows], np.int64)
    out["item"] = np.zeros((len(rows), len(vocab["item"])), bool)
    for i, (_, r) in enumerate(rows):
        right = [vocab["item"].index(a) for a in r["item"].split("|") if a in vocab["item"]]
        out["item"][i, right + ([0] if r["literal"] else [])] = True
    _pack_pointers(out, batch, rows, base)
    _pack_numbers(out, batch, rows, base, vocab)
    return {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in out.items()}


def _spans(
    batch: list[dict[str, Any]], key: str, base: list[int]
) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """Token indices and the span each belongs to, for pooling; and the first span of each narration."""
    tokens, owner, offset, count = [], [], [], 0
    for n, ex in enumerate(batch):
        offset.append(count)
        for a, b in ex[key]:
            b = max(b, a + 1)
            tokens += [base[n] + min(i, len(ex["words"]) - 1) for i in range(a, b)]
            owner += [count] * (b - a)
            count += 1
    return np.array(tokens, np.int64), np.array(owner, np.int64), [*offset, count]


def _pack_pointers(
    out: dict[str, np.ndarray], batch: list[dict[str, Any]], rows: list[Any], base: list[int]
) -> None:
    for name, key in (("hive", "mentions"), ("date", "dates")):
        tokens, owner, offset = _spans(batch, key, base)
        out[f"{name}_tokens"], out[f"{name}_owner"] = tokens, owner
        total = offset[-1]
        where = np.zeros((len(rows), total, 3), np.int64)
        besides = 2 if name == "hive" else 1
        own = np.zeros((len(rows), total + besides), bool)
        right = np.zeros((len(rows), total + besides), bool)
        i = 0
        for n, ex in enumerate(batch):
            mine = slice(offset[n], offset[n + 1])
            here = places(
                [r["anchor"] for r in ex["rows"]], [tuple(s) for s in ex[key]], ex["sentences"]
            )
            where[i : i + len(ex["rows"]), mine] = here
            for r in ex["rows"]:
                own[i, mine] = True
                own[i, total:] = True
                if name == "hive":
                    none, good = r["nohive"], r["hive"]
                else:
                    none, good = not r["dated"], r["dates"]
                right[i, [total] if none else [offset[n] + g for g in good]] = True
                right[i, total + 1 :] = r["all"]
                i += 1
        out |= {f"{name}_where": where, f"{name}_own": own, f"{name}_right": right}


def _pack_numbers(
    out: dict[str, np.ndarray],
    batch: list[dict[str, Any]],
    rows: list[Any],
    base: list[int],
    vocab: dict[str, list[str]],
) -> None:
    tokens, owner, offset = _spans(batch, "quantities", base)
    total = offset[-1]
    where = np.zeros((total, len(rows), 3), np.int64)
    own = np.zeros((total, len(rows) + 1), bool)
    right = np.zeros((total, len(rows) + 1), bool)
    role = np.full(total, -100, np.int64)
    unit = np.full(total, -100, np.int64)
    first = 0
    for n, ex in enumerate(batch):
        mine, facts = slice(offset[n], offset[n + 1]), slice(first, first + len(ex["rows"]))
        spans = [(r["anchor"], r["anchor"] + 1) for r in ex["rows"]]
        where[mine, facts] = places([a for a, _ in ex["quantities"]], spans, ex["sentences"])
        own[mine, facts] = True
        own[mine, -1] = True
        for i, r in enumerate(ex["rows"]):
            for number, said_role, said_unit in r["values"]:
                right[offset[n] + number, first + i] = True
                role[offset[n] + number] = ROLES.index(said_role)
                known = str(said_unit) in vocab["unit"]
                unit[offset[n] + number] = vocab["unit"].index(str(said_unit)) if known else 0
        first += len(ex["rows"])
    right[~right.any(axis=1), -1] = True
    out |= {"value_tokens": tokens, "value_owner": owner, "value_where": where, "value_own": own,
            "value_right": right, "role": role, "unit": unit}  # fmt: skip
