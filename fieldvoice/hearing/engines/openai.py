"""Whisper through OpenAI's own package: the reference, and the engine for a GPU."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fieldvoice.errors import ModelError
from fieldvoice.hearing import convert
from fieldvoice.hearing.catalog import untaught
from fieldvoice.hearing.decode import Sound
from fieldvoice.hearing.engines import BEAM, LANGUAGE, WINDOW, Array, Decoded, Timed
from fieldvoice.hearing.engines.words import merge

HOP = 160  # samples of a mel frame


class WhisperEngine:
    """PyTorch; float16 on CUDA, float32 on the CPU."""

    name = "whisper"
    window = WINDOW
    workers = 1  # PyTorch spreads one window over all cores itself

    def __init__(self, folder: Path, model: str, *, device: str | None = None) -> None:
        import torch
        from whisper.tokenizer import get_tokenizer

        self.model = model
        self.folder = folder
        self.device = device or ("cuda" if torch.cuda.is_available() else "cpu")
        self._whisper = load_whisper(folder, model).to(self.device)
        self._half = self.device == "cuda"
        if self._half:
            _halve(self._whisper)
        self._tokenizer = get_tokenizer(
            self._whisper.is_multilingual,
            num_languages=self._whisper.num_languages,
            language=LANGUAGE,
            task="transcribe",
        )
        # Decoding hangs hooks into the model, so two threads must not share it.
        self._turn = threading.Lock()

    def encode(self, sound: Sound, *, short: bool = False) -> Any:
        """Mel spectrogram of 30 s, zero-padded, through the encoder, which takes no less."""
        import torch
        from whisper.audio import N_SAMPLES, log_mel_spectrogram, pad_or_trim

        mel = log_mel_spectrogram(
            pad_or_trim(torch.from_numpy(sound), N_SAMPLES),
            self._whisper.dims.n_mels,
            device=self.device,
        )
        mel = mel.half() if self._half else mel
        with self._turn, torch.inference_mode():
            return self._whisper.encoder(mel[None])

    def generate(
        self, encoded: Any, prompt: str, *, beam: int = BEAM, no_repeat: int = 0
    ) -> Decoded:
        """Whisper's own beam search, with a ban on repeats where one is asked for."""
        import torch
        from whisper.decoding import DecodingOptions, DecodingTask

        options = DecodingOptions(
            language=LANGUAGE,
            beam_size=beam,
            prompt=prompt or None,
            without_timestamps=True,
            fp16=self._half,
        )
        with self._turn, torch.inference_mode():
            task = DecodingTask(self._whisper, options)
            if no_repeat:
                task.logit_filters.append(_NoRepeat(no_repeat, task.sample_begin))
            found = task.run(encoded)[0]
        tokens = tuple(t for t in found.tokens if t < self._tokenizer.eot)
        return Decoded(found.text.strip(), tokens, found.no_speech_prob, found.avg_logprob)

    def align(self, encoded: Any, tokens: Sequence[int], seconds: float) -> list[Timed]:
        """Word times from the cross-attention of the model's alignment heads."""
        from whisper.timing import find_alignment

        if not tokens:
            return []
        frames = max(2, int(seconds * 16_000 / HOP))
        with self._turn:
            found = find_alignment(
                _Encoded(self._whisper), self._tokenizer, list(tokens), encoded[0], frames
            )
        return merge(
            Timed(w.word, float(w.start), float(w.end), float(w.probability), tuple(w.tokens))
            for w in found
        )

    def memory(self, encoded: Any) -> Array:
        """The encoder's output, frames x width."""
        array: Array = encoded[0].float().cpu().numpy()
        return array

    def tokens(self, text: str) -> list[int]:
        """Whisper's byte pairs of " text"."""
        return list(self._tokenizer.encode(" " + text.strip()))

    def lead(self, prompt: str) -> list[int]:
        """As openai-whisper's decoding puts it: the prompt's last 223 tokens, then the start."""
        previous = self.tokens(prompt)[-(self._whisper.dims.n_text_ctx // 2 - 1) :]
        tokens = [self._tokenizer.sot_prev, *previous] if prompt else []
        return [*tokens, *self._tokenizer.sot_sequence, self._tokenizer.no_timestamps]


def _halve(whisper: Any) -> None:
    """Multiply in float16; Whisper's layer norms work in float32 and want their weights so."""
    from torch import nn

    for part in whisper.modules():
        if isinstance(part, nn.Linear | nn.Conv1d):
            part.half()


class _Encoded:
    """The model, for `find_alignment`, with the encoder's work already done."""

    def __init__(self, whisper: Any) -> None:
        self._whisper = whisper

    def __getattr__(self, name: str) -> Any:
        return getattr(self._whisper, name)

    def __call__(self, encoded: Any, tokens: Any) -> Any:
        return self._whisper.decoder(tokens, encoded)


class _NoRepeat:
    """Forbids the token that would complete a run of `size` tokens for the second time."""

    def __init__(self, size: int, begin: int) -> None:
        self._size, self._begin = size, begin

    def apply(self, logits: Any, tokens: Any) -> None:
        """Whisper's LogitFilter: changes `logits` (beam x vocabulary) in place."""
        for row, sequence in enumerate(tokens[:, self._begin :].tolist()):
            last = sequence[-(self._size - 1) :]
            if len(last) < self._size - 1:
                return
            for i in range(len(sequence) - self._size + 1):
                if sequence[i : i + self._size - 1] == last:
                    logits[row, sequence[i + self._size - 1]] = -float("inf")


def load_whisper(folder: Path, model: str) -> Any:
    """openai-whisper's model, float32, filled from CTranslate2's file.

    Raises:
        ModelError: the file lacks a weight that Whisper needs.
    """
    import torch
    import whisper
    from whisper.model import ModelDimensions, Whisper

    arrays = convert.read_model_bin(folder / "model.bin")
    network = Whisper(ModelDimensions(**convert.dimensions(arrays)))
    weights = {
        name: torch.from_numpy(array.astype("float32"))
        for name, array in convert.state_dict(arrays).items()
    }
    fit = network.load_state_dict(weights, strict=False)
    if fit.missing_keys or fit.unexpected_keys:
        raise ModelError(
            f"The speech model {model} does not fit: {len(fit.missing_keys)} weights missing, "
            f"{len(fit.unexpected_keys)} unknown. Install it again."
        )
    heads = whisper._ALIGNMENT_HEADS.get(untaught(model))
    if heads is not None:
        network.set_alignment_heads(heads)
    return network.eval()
