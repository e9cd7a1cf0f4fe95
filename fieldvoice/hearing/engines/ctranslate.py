"""Whisper through CTranslate2: int8 on the CPU, several times faster than PyTorch.

Two workers of one thread each share one copy of the weights; on two cores that beats
one worker of two threads by 1.7 to 2.2 times.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from fieldvoice.errors import ModelError
from fieldvoice.hearing.decode import RATE, Sound
from fieldvoice.hearing.engines import BEAM, LANGUAGE, WINDOW, Array, Decoded, Opinion, Timed
from fieldvoice.hearing.engines.words import merge

MAX_TOKENS = 448  # positions of Whisper's decoder
LONGEST = 30 * RATE  # samples the encoder can take
SHORT_PAD = 2 * RATE
SHORTER = {"base": 20.0}  # seconds; half the encoder's work and no less accurate
MAX_PROMPT = MAX_TOKENS // 2 - 1


class CTranslate2Engine:
    """One copy of the weights, `workers` threads that decode windows side by side."""

    name = "ctranslate2"

    def __init__(
        self, folder: Path, model: str, *, workers: int | None = None, compute_type: str = "int8"
    ) -> None:
        from faster_whisper import WhisperModel
        from faster_whisper.tokenizer import Tokenizer

        self.model = model
        self.folder = folder
        self.window = SHORTER.get(model, WINDOW)
        self.workers = workers or min(os.cpu_count() or 1, 8)
        try:
            self._whisper = WhisperModel(
                str(folder),
                device="cpu",
                compute_type=compute_type,
                cpu_threads=1,
                num_workers=self.workers,
            )
        except (RuntimeError, ValueError, OSError) as error:
            raise ModelError(
                f"The speech model {model} in {folder} cannot be loaded ({error}). "
                "Install it again, or choose another with --model."
            ) from error
        self._known: dict[str, list[int]] = {}
        multilingual = self._whisper.model.is_multilingual
        self._tokenizer = Tokenizer(
            self._whisper.hf_tokenizer, multilingual, task="transcribe", language=LANGUAGE
        )

    def encode(self, sound: Sound, *, short: bool = False) -> Any:
        """Mel spectrogram, padded with silence to 30 s or by 2 s, through the encoder."""
        import ctranslate2

        short = short or self.window < WINDOW
        padding = min(SHORT_PAD, LONGEST - len(sound)) if short else LONGEST - len(sound)
        features = self._whisper.feature_extractor(sound, padding=padding)
        features = np.ascontiguousarray(features[np.newaxis, :, :3000])
        return self._whisper.model.encode(ctranslate2.StorageView.from_array(features))

    def generate(
        self, encoded: Any, prompt: str, *, beam: int = BEAM, no_repeat: int = 0
    ) -> Decoded:
        """Beam search; the prompt stands where Whisper expects earlier text."""
        return self._decoded(self._generate(encoded, prompt, beam, no_repeat=no_repeat))

    def opine(self, encoded: Any, prompt: str, texts: Sequence[str]) -> Opinion:
        """Greedy search, whose chances for every token are read off at the start of each word."""
        result = self._generate(encoded, prompt, 1, chances=True)
        decoded = self._decoded(result)
        single = {t: tokens[0] for t in texts if len(tokens := self._known_tokens(t)) == 1}
        if not decoded.tokens:
            return Opinion(decoded, (), ())
        words, starts = self._words(decoded.tokens)
        logits = np.asarray(result.logits[0])
        wanted = logits[np.ix_(starts, list(single.values()))]
        wanted -= logits.max(axis=1)[starts, None]
        chances = tuple(dict(zip(single, row, strict=True)) for row in wanted.tolist())
        return Opinion(decoded, tuple(words), chances)

    def _generate(
        self, encoded: Any, prompt: str, beam: int, *, no_repeat: int = 0, chances: bool = False
    ) -> Any:
        return self._whisper.model.generate(
            encoded,
            [self.lead(prompt)],
            beam_size=beam,
            no_repeat_ngram_size=no_repeat,
            max_length=MAX_TOKENS,
            return_scores=True,
            return_logits_vocab=chances,
            return_no_speech_prob=True,
            suppress_blank=True,
            suppress_tokens=[-1],
        )[0]

    def _decoded(self, result: Any) -> Decoded:
        out = tuple(t for t in result.sequences_ids[0] if t < self._tokenizer.eot)
        return Decoded(
            self._tokenizer.decode(list(out)).strip(),
            out,
            float(result.no_speech_prob),
            float(result.scores[0]),
        )

    def _words(self, tokens: Sequence[int]) -> tuple[list[str], list[int]]:
        """The words of a text as spaces part them, and the place of the first token of each."""
        parts, of = self._tokenizer.split_to_word_tokens([*tokens, self._tokenizer.eot])
        words: list[str] = []
        starts: list[int] = []
        at = 0
        for part, own in zip(parts[:-1], of[:-1], strict=True):
            if part.startswith(" ") or not words:
                words.append("")
                starts.append(at)
            words[-1] += part.strip()
            at += len(own)
        return words, starts

    def align(self, encoded: Any, tokens: Sequence[int], seconds: float) -> list[Timed]:
        """Word times from the cross-attention of the model's alignment heads."""
        if not tokens:
            return []
        frames = max(2, int(seconds * RATE / self._whisper.feature_extractor.hop_length))
        found = self._whisper.find_alignment(self._tokenizer, [list(tokens)], encoded, frames)[0]
        return merge(
            Timed(
                w["word"],
                float(w["start"]),
                float(w["end"]),
                float(w["probability"]),
                tuple(w["tokens"]),
            )
            for w in found
        )

    def memory(self, encoded: Any) -> Array:
        """The encoder's output, frames x width."""
        array: Array = np.array(encoded, np.float32)[0]
        return array

    def tokens(self, text: str) -> list[int]:
        """Whisper's byte pairs of " text"."""
        return list(self._tokenizer.encode(" " + text.strip()))

    def _known_tokens(self, text: str) -> list[int]:
        """The same for words that are asked about again and again."""
        if text not in self._known:
            self._known[text] = self.tokens(text)
        return self._known[text]

    def lead(self, prompt: str) -> list[int]:
        """The prompt as earlier text, then the start of a text without time stamps."""
        previous = self.tokens(prompt)[-MAX_PROMPT:] if prompt else []
        tokens = [self._tokenizer.sot_prev, *previous] if previous else []
        return [*tokens, *self._tokenizer.sot_sequence, self._tokenizer.no_timestamps]
