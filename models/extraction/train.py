"""Train the fact model and write it as an int8 ONNX encoder and arrays of heads.

    python models/extraction/train.py --train A.json ... --base FOLDER --out FOLDER

The inputs are written by prepare.py. FOLDER of --base holds a BERT-like encoder
(config.json, model.safetensors, tokenizer.json). Runs on a GPU if there is one. With
--folds N it trains N models, each without a part of the narrations, which calibrate.py
then reads as if they were new.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from batches import Narrations, Pieces, Variety
from network import Network
from seal import seal
from torch import Tensor

from fieldvoice.extraction.candidates import FEATURE_SIZES
from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES


def vocabularies(examples: list[dict[str, Any]]) -> dict[str, list[str]]:
    """The classes of each head; items and units are those that the narrations have."""
    items: Counter[str] = Counter()
    units: Counter[str] = Counter()
    for ex in examples:
        for row in ex["rows"]:
            if not row["literal"]:
                items[row["item"].split("|")[0]] += 1
            units.update(str(unit) for _, _, unit in row["values"])
    return {
        "kind": list(KINDS), "action": list(ACTIONS), "status": list(STATUSES), "role": list(ROLES),
        "item": ["*thing*"] + [i for i, n in items.most_common() if n >= 2],
        "unit": ["*literal*"] + [u for u, n in units.most_common() if n >= 3],
    }  # fmt: skip


def several(logits: Tensor, right: Tensor, own: Tensor | None = None) -> Tensor:
    """Cross-entropy where any of several candidates is right; rows without one do not count."""
    if own is not None:
        logits = logits.masked_fill(~own, -1e4)
    logp = F.log_softmax(logits, dim=1).masked_fill(~right, -1e4)
    known = right.any(dim=1)
    return -(torch.logsumexp(logp, dim=1) * known).sum()


def pooled(h: Tensor, tokens: Tensor, owner: Tensor, count: int) -> Tensor:
    """Mean state of each span."""
    total = h.new_zeros(count, h.shape[1]).index_add(0, owner, h[tokens])
    size = h.new_zeros(count).index_add(0, owner, h.new_ones(len(owner)))
    return total / size.clamp(min=1).unsqueeze(1)


def loss_of(net: Network, b: dict[str, Tensor]) -> Tensor:
    """All losses of a batch, summed, per hundred words."""
    heads = net.heads
    states = net.dropout(net.encoder(b["pieces"], b["features"], b["mask"]))
    h = states.flatten(0, 1)[b["words"]]
    fact = heads.fact(h)
    score = heads.anchor(fact).squeeze(-1)
    loss = F.binary_cross_entropy_with_logits(score, b["gold"], reduction="sum")
    at, plain = fact[b["anchors"]], h[b["anchors"]]
    for name in ("kind", "action", "status"):
        logits = heads.of_fact[name](at)
        loss = loss + F.cross_entropy(logits, b[name], reduction="sum", label_smoothing=0.03)
    loss = loss + several(heads.of_fact["item"](at), b["item"])
    for name in ("hive", "date"):
        count = b[f"{name}_own"].shape[1] - heads.pointers[name].none.out_features
        keys = pooled(h, b[f"{name}_tokens"], b[f"{name}_owner"], count)
        logits = heads.pointers[name](plain, keys, b[f"{name}_where"])
        loss = loss + several(logits, b[f"{name}_right"], b[f"{name}_own"])
    q = pooled(h, b["value_tokens"], b["value_owner"], len(b["role"]))
    logits = heads.pointers["value"](q, plain, b["value_where"])
    loss = loss + several(logits, b["value_right"], b["value_own"])
    x = heads.number(q)
    for name in ("role", "unit"):
        loss = loss + F.cross_entropy(heads.of_number[name](x), b[name], reduction="sum")
    return loss / len(b["words"]) * 10


def build(base: Path, vocab: dict[str, list[str]], device: str) -> Network:
    """The pretrained encoder with new heads."""
    from safetensors.torch import load_file
    from transformers import BertConfig, BertModel

    bert = BertModel(BertConfig.from_pretrained(base), add_pooling_layer=False)
    weights = {k: v.float() for k, v in load_file(base / "model.safetensors").items()}
    missing, _ = bert.load_state_dict(weights, strict=False)
    if [m for m in missing if "position_ids" not in m]:
        raise SystemExit(f"the base encoder lacks {missing}")
    return Network(bert, FEATURE_SIZES, {k: len(v) for k, v in vocab.items()}).to(device)


def train(
    examples: list[dict[str, Any]],
    vocab: dict[str, list[str]],
    options: argparse.Namespace,
    seed: int,
) -> Network:
    """Train on all examples; the weights that come back are a running average."""
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(seed)
    net = build(options.base, vocab, device)
    groups = [
        {"params": net.encoder.bert.parameters(), "lr": options.lr},
        {
            "params": [*net.encoder.features.parameters(), *net.heads.parameters()],
            "lr": options.lr * 10,
        },
    ]
    optimizer = torch.optim.AdamW(groups, weight_decay=0.01)
    steps, warm = options.steps, max(1, options.steps // 10)
    schedule = torch.optim.lr_scheduler.LambdaLR(
        optimizer, lambda t: min((t + 1) / warm, max(0.02, (steps - t) / max(1, steps - warm)))
    )
    pieces = Pieces(options.base / "tokenizer.json")
    data = Narrations(
        examples,
        vocab,
        pieces,
        steps=steps,
        size=options.batch,
        seed=seed,
        how=Variety(**json.loads(options.variety)),
    )
    loader = torch.utils.data.DataLoader(
        data, batch_size=None, num_workers=options.workers, pin_memory=device == "cuda"
    )
    average = {k: v.detach().clone() for k, v in net.state_dict().items()}
    net.train()
    for step, batch in enumerate(loader):
        loss = loss_of(net, {k: v.to(device, non_blocking=True) for k, v in batch.items()})
        optimizer.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimizer.step()
        schedule.step()
        if step % 5 == 0:
            keep = min(0.98, (step + 1) / (step + 10))
            state = net.state_dict()
            floats = [k for k, v in state.items() if v.dtype.is_floating_point]
            torch._foreach_mul_([average[k] for k in floats], keep)
            torch._foreach_add_(
                [average[k] for k in floats], [state[k] for k in floats], alpha=1 - keep
            )
        if step % 200 == 0:
            print(f"step {step} loss {loss.item():.3f}", flush=True)
    net.load_state_dict(average)
    return net.eval()


def export(net: Network, vocab: dict[str, list[str]], out: Path) -> None:
    """Write encoder.onnx (int8), heads.npz (float16), vocabulary.json, and their hashes."""
    import onnx
    from onnxruntime.quantization import QuantType, quantize_dynamic

    out.mkdir(parents=True, exist_ok=True)
    net = net.cpu()
    inputs = (
        torch.tensor([[101, 2017, 2018, 102]]),
        torch.zeros(1, 4, len(FEATURE_SIZES), dtype=torch.long),
        torch.ones(1, 4, dtype=torch.long),
    )
    axes = {k: {0: "batch", 1: "pieces"} for k in ("pieces", "features", "mask", "states")}
    full = out / "encoder.fp32.onnx"
    torch.onnx.export(
        net.encoder, inputs, str(full), input_names=["pieces", "features", "mask"],
        output_names=["states"], dynamic_axes=axes, opset_version=17, dynamo=False,
    )  # fmt: skip
    onnx.checker.check_model(str(full))
    quantize_dynamic(
        str(full), str(out / "encoder.onnx"), weight_type=QuantType.QInt8, per_channel=True
    )
    full.unlink()
    arrays = {k: v.detach().numpy().astype(np.float16) for k, v in net.heads.state_dict().items()}
    np.savez(out / "heads.npz", **arrays)
    (out / "vocabulary.json").write_text(json.dumps(vocab, indent=0))
    seal(out)


def main() -> None:
    """Read the options and train."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--train", nargs="+", required=True)
    parser.add_argument("--base", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--steps", type=int, default=1500)
    parser.add_argument("--batch", type=int, default=8)
    parser.add_argument("--lr", type=float, default=6e-5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folds", type=int, default=0)
    parser.add_argument("--fold", type=int, default=-1, help="with --folds, only this one")
    parser.add_argument("--only", type=int, default=0, help="use only this many narrations")
    parser.add_argument("--variety", default="{}", help="fields of batches.Variety as JSON")
    parser.add_argument(
        "--blind", action="store_true", help="hide what rules found, to see what that is worth"
    )
    parser.add_argument("--workers", type=int, default=4)
    options = parser.parse_args()
    examples = [ex for name in options.train for ex in json.loads(Path(name).read_text())]
    random.Random(0).shuffle(examples)
    if options.blind:
        for ex in examples:
            ex["features"] = [[0] * len(FEATURE_SIZES) for _ in ex["words"]]
    if options.only:
        examples = examples[: options.only]
    vocab = vocabularies(examples)
    print(len(examples), "narrations", {k: len(v) for k, v in vocab.items()}, flush=True)
    if not options.folds:
        export(train(examples, vocab, options, options.seed), vocab, options.out)
        return
    for fold in range(options.folds) if options.fold < 0 else [options.fold]:
        part = [ex for i, ex in enumerate(examples) if i % options.folds != fold]
        folder = options.out / f"fold{fold}"
        export(train(part, vocab, options, options.seed + fold), vocab, folder)
        left = [ex["id"] for i, ex in enumerate(examples) if i % options.folds == fold]
        (folder / "left_out.json").write_text(json.dumps(left))


if __name__ == "__main__":
    main()
