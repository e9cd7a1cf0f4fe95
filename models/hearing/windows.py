"""Spoken utterances -> windows of half a minute, clean and worsened, with what should be written.

A window holds one voice: one utterance or several with pauses between, so that the recogniser
learns to go on. Before its text stands a prompt, made as fieldvoice makes one.
"""

from __future__ import annotations

import json
import random
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F
from noise import bank, worsened
from texts import label
from torch import Tensor

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.prompt import build_prompt
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.trade.load import trade_file

SIZE = 30 * RATE
FULL = 27  # seconds of speech and pauses, at most
EMPTY = 0.02  # share of windows in which nobody speaks
GENERAL = 0.22  # ... of general English
CLEAN = 0.22  # ... left as they were spoken
NO_PROMPT = 0.25
Spoken = tuple[str, int, int]  # what is to be written, first sample, samples


@dataclass(frozen=True, slots=True)
class Speech:
    """All sound that was spoken, and by voice where each utterance lies in it."""

    sound: Tensor
    yard: dict[str, list[Spoken]]
    general: dict[str, list[Spoken]]


@dataclass(frozen=True, slots=True)
class Batch:
    """Windows by row, with prompt and text as tokens."""

    clean: Tensor
    noisy: Tensor
    tokens: Tensor
    text: Tensor  # 1 where the next token is to be learnt, not the prompt's or behind the end
    general: Tensor  # whether a window is general English


def read_speech(folder: Path, device: str) -> Speech:
    """What speak.py wrote."""
    sounds, at = [], 0
    yard: dict[str, list[Spoken]] = defaultdict(list)
    general: dict[str, list[Spoken]] = defaultdict(list)
    for path in sorted(folder.glob("speech-*.json")):
        sounds.append(torch.from_numpy(np.load(path.with_suffix(".npy"))))
        for line in json.loads(path.read_text(encoding="utf-8")):
            kind = general if line["kind"] == "general" else yard
            kind[line["voice"]].append((line["written"], at, line["samples"]))
            at += line["samples"]
    if not yard:
        raise SystemExit(f"{folder}: no utterances of a yard. Run speak.py first.")
    return Speech(torch.cat(sounds).to(device), dict(yard), dict(general))


class Windows:
    """Windows without end, by chance; each kind of choice from one seed."""

    def __init__(self, speech: Speech, tokenizer: Any, seed: int, noises: int = 40) -> None:
        self._speech = speech
        self._tokenizer = tokenizer
        self._rng = random.Random(seed)
        self._device = str(speech.sound.device)
        self._noises = bank(noises, seed, self._device)
        self._vocabulary = vocabulary_from(trade_file("speech"))

    def batch(self, size: int) -> Batch:
        """So many windows."""
        clean = torch.zeros(size, SIZE, device=self._device)
        noisy = torch.zeros_like(clean)
        rows: list[tuple[list[int], int]] = []
        general = torch.zeros(size, dtype=torch.bool, device=self._device)
        for n in range(size):
            text, general[n] = self._fill(clean[n])
            spared = text and self._rng.random() < CLEAN
            noisy[n] = clean[n] if spared else worsened(clean[n], self._noises, self._rng)
            rows.append(self._tokens(text))
        noisy = noisy / noisy.abs().amax(1, keepdim=True).clamp(min=1.0)
        longest = max(len(tokens) for tokens, _ in rows)
        tokens = torch.full((size, longest), self._tokenizer.eot)
        learnt = torch.zeros(size, longest - 1)
        for n, (row, lead) in enumerate(rows):
            tokens[n, : len(row)] = torch.tensor(row)
            learnt[n, lead - 1 : len(row) - 1] = 1
        return Batch(clean, noisy, tokens.to(self._device), learnt.to(self._device), general)

    def _fill(self, window: Tensor) -> tuple[str, bool]:
        """Put utterances of one voice into the window; their text, and whether it is general."""
        rng = self._rng
        if rng.random() < EMPTY:
            return "", False
        general = bool(self._speech.general) and rng.random() < GENERAL
        voices = self._speech.general if general else self._speech.yard
        lines = voices[rng.choice(sorted(voices))]
        gain = 10 ** (-rng.uniform(0, 14) / 20)
        rate = rng.uniform(0.92, 1.1) if rng.random() < 0.5 else 1.0
        wanted = rng.choice((3, 6, 10, 15, 20, 24, FULL)) * RATE
        at = rng.randint(0, 9000)
        texts: list[str] = []
        shuffled = rng.sample(lines, len(lines))  # none comes twice, which would teach loops
        for text, start, samples in shuffled:
            if at >= wanted:
                break
            if at + samples * rate > (FULL * RATE if texts else SIZE):
                break  # what is written must all be heard
            sound = self._speech.sound[start : start + samples].float() / 32_768
            if rate != 1.0:
                sound = F.interpolate(sound[None, None], scale_factor=rate, mode="linear")[0, 0]
            window[at : at + len(sound)] = sound * gain
            texts.append(text)
            at += len(sound) + rng.randint(2500, RATE)
        return " ".join(texts), general

    def _tokens(self, text: str) -> tuple[list[int], int]:
        """Prompt, start, text and end; and where the text begins."""
        encode, prompt = self._tokenizer.encode, self._prompt()
        lead = [*self._tokenizer.sot_sequence, self._tokenizer.no_timestamps]
        if prompt:
            lead = [self._tokenizer.sot_prev, *encode(f" {prompt}")[-223:], *lead]
        body = encode(f" {text}") if text else []
        return [*lead, *body, self._tokenizer.eot], len(lead)

    def _prompt(self) -> str:
        """Labels as some register may have them, and the trade's words, or some of them."""
        rng, vocabulary = self._rng, self._vocabulary
        if rng.random() < NO_PROMPT:
            return ""
        few = rng.randint(1, 10) if rng.random() < 0.6 else 0
        words = vocabulary.words
        if rng.random() < 0.3:
            words = tuple(rng.sample(words, rng.randint(5, min(20, len(words)))))
        labels = tuple(label(rng).written for _ in range(few))
        return build_prompt(
            replace(vocabulary, labels=labels, words=words),
            lambda prompt: len(self._tokenizer.encode(f" {prompt}")),
        )
