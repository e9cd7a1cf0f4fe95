"""Teach a speech model the talk of a yard: windows of synthetic speech -> an adapter.

    python models/hearing/train.py SPOKEN OUT.npz --steps 880 --lr 2.5e-4 --kl 0.3

SPOKEN is the folder that speak.py wrote. The model is taken from where fieldvoice finds it,
without an adapter; it stays as it is, and only the adapter learns (lora.py). Two things
pull: what should be written (cross-entropy), and what the untaught model says of the same
window without noise (Kullback-Leibler divergence), weighted by --kl for talk of the yard
and by --kl-general for general English. Runs on a GPU if there is one.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from lora import adapt, adapter_of
from torch import Tensor
from whisper.audio import log_mel_spectrogram
from whisper.tokenizer import get_tokenizer
from windows import Batch, Windows, read_speech

from fieldvoice.hearing.engines.openai import load_whisper
from fieldvoice.hearing.weights import find_weights

WARM = 100  # steps until the learning rate is what was asked for
LEAST = 0.03  # the share of it that is left at the end
TOLD = 50  # steps between lines of progress


def rate(step: int, steps: int) -> float:
    """The share of the learning rate: up in a line, down as a cosine."""
    falling = 0.5 * (1 + math.cos(math.pi * step / steps))
    return min(1.0, (step + 1) / WARM) * (falling * (1 - LEAST) + LEAST)


def logits_of(network: Any, sound: Tensor, tokens: Tensor) -> Tensor:
    """What the network expects after each token but the last."""
    mel = log_mel_spectrogram(sound, network.dims.n_mels)
    with torch.autocast("cuda", torch.bfloat16, enabled=sound.is_cuda):
        logits: Tensor = network.decoder(tokens[:, :-1], network.encoder(mel))
    return logits.float()


def losses(
    student: Any, teacher: Any, batch: Batch, kl: float, kl_general: float
) -> tuple[Tensor, Tensor]:
    """Cross-entropy and weighted divergence, both per token that is to be learnt."""
    count = batch.text.sum()
    logits = logits_of(student, batch.noisy, batch.tokens)
    each = F.cross_entropy(logits.transpose(1, 2), batch.tokens[:, 1:], reduction="none")
    entropy = (each * batch.text).sum() / count
    weight = torch.where(batch.general, kl_general, kl)
    asked = weight.nonzero()[:, 0]
    if not len(asked):
        return entropy, torch.zeros_like(entropy)
    with torch.no_grad():
        told = logits_of(teacher, batch.clean[asked], batch.tokens[asked]).log_softmax(-1)
    own = logits[asked].log_softmax(-1)
    apart = F.kl_div(own, told, log_target=True, reduction="none").sum(-1)
    return entropy, (apart * batch.text[asked] * weight[asked, None]).sum() / count


def train(options: argparse.Namespace) -> Any:
    """The network with the adapter that has learnt."""
    torch.manual_seed(options.seed)
    folder = find_weights(options.model).folder
    student, teacher = (load_whisper(folder, options.model).to(options.device) for _ in range(2))
    teacher.requires_grad_(requires_grad=False)
    learnt = adapt(student, options.rank)
    print(f"{sum(p.numel() for p in learnt) / 1e6:.2f} million numbers to learn", flush=True)
    tokenizer = get_tokenizer(student.is_multilingual, language="en", task="transcribe")
    windows = Windows(read_speech(options.spoken, options.device), tokenizer, options.seed)
    optimizer = torch.optim.AdamW(learnt, lr=options.lr, weight_decay=0.01, betas=(0.9, 0.98))
    schedule = torch.optim.lr_scheduler.LambdaLR(optimizer, lambda t: rate(t, options.steps))
    seen: list[tuple[float, float]] = []
    for step in range(1, options.steps + 1):
        batch = windows.batch(options.batch)
        entropy, apart = losses(student, teacher, batch, options.kl, options.kl_general)
        optimizer.zero_grad()
        (entropy + apart).backward()
        torch.nn.utils.clip_grad_norm_(learnt, 1.0)
        optimizer.step()
        schedule.step()
        seen.append((entropy.item(), apart.item()))
        if step % TOLD == 0 or step == options.steps:
            mean = np.mean(seen[-TOLD:], axis=0)
            print(f"step {step}: entropy {mean[0]:.4f}, divergence {mean[1]:.4f}", flush=True)
    return student


def main() -> None:
    """Read the options, train, write the adapter."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("spoken", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--model", default="tiny.en")
    parser.add_argument("--steps", type=int, default=880)
    parser.add_argument("--batch", type=int, default=32)
    parser.add_argument("--lr", type=float, default=2.5e-4)
    parser.add_argument("--rank", type=int, default=32)
    parser.add_argument("--kl", type=float, default=0.3)
    parser.add_argument("--kl-general", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--device", default="cuda" if torch.cuda.is_available() else "cpu")
    options = parser.parse_args()
    np.savez_compressed(options.out, **adapter_of(train(options)))


if __name__ == "__main__":
    main()
