"""Fetch an official Whisper checkpoint and keep it in CTranslate2's format.

Only `fieldvoice models --get NAME` comes here: nothing is downloaded unasked. The
checkpoint's hash is checked by openai-whisper itself against the one in its address,
which is the one in our catalogue too.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Any
from urllib.error import URLError

import numpy as np

from fieldvoice.errors import ModelError
from fieldvoice.hearing.catalog import Model, catalog, known
from fieldvoice.hearing.weights import (
    Weights,
    fetched_folder,
    find_weights,
    record_hash,
    whereabouts,
)

BESIDE = ("tokenizer.json", "vocabulary.txt")


def fetch(name: str) -> Weights:
    """Download `name`, check it, convert it, and put it where `find_weights` looks.

    Raises:
        ModelError: no such model, no network, no room, or not the file it should be.
    """
    model = known(name)
    if model.base is not None:
        fetch(model.base)
        return find_weights(name)
    if model.official is None:
        raise ModelError(f"The speech model {name} has no official download.")
    folder = fetched_folder(name)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise ModelError(f"{folder.parent} cannot be written ({error.strerror}).") from error
    try:
        checkpoint = _download(model, work)
        ready = work / "ready"
        write_folder(checkpoint, ready, name)
        shutil.rmtree(folder, ignore_errors=True)
        ready.rename(folder)
    except OSError as error:
        raise ModelError(
            f"The speech model {name} cannot be kept in {folder} ({error}). Make room there."
        ) from error
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return find_weights(name) if model.wheel is None else Weights(name, folder, "download")


def _download(model: Model, work: Path) -> dict[str, Any]:
    """openai-whisper's download; its address carries the sha256 it checks."""
    import torch
    import whisper

    address = whisper._MODELS.get(model.name, "")
    if f"/{model.official}/" not in address:
        raise ModelError(
            f"openai-whisper now offers another file for {model.name} than the catalogue knows "
            "(its sha256 differs). Update fieldvoice."
        )
    try:
        path = whisper._download(address, str(work), False)  # noqa: FBT003  # in_memory
    except (URLError, TimeoutError, ConnectionError) as error:
        raise ModelError(
            f"The speech model {model.name} cannot be downloaded: no network, or its server "
            f"does not answer ({error}). Try again later; models that are here still work."
        ) from error
    except RuntimeError as error:
        raise ModelError(f"The download of {model.name} arrived damaged. Try again.") from error
    loaded: dict[str, Any] = torch.load(path, map_location="cpu", weights_only=True)
    return loaded


def write_folder(checkpoint: dict[str, Any], folder: Path, name: str) -> None:
    """Write Whisper's checkpoint ({"dims", "model_state_dict"}) as a CTranslate2 folder."""
    spec = whisper_spec(checkpoint, _alignment_heads(name, checkpoint["dims"]))
    folder.mkdir(parents=True)
    for path in _beside(multilingual=checkpoint["dims"]["n_vocab"] >= 51_865):
        shutil.copyfile(path, folder / path.name)
    words = (folder / "vocabulary.txt").read_text(encoding="utf-8").splitlines()
    spec.register_vocabulary(words)
    spec.validate()
    spec.optimize(quantization="float16")
    spec.save(str(folder))
    record_hash(folder)


def _beside(*, multilingual: bool) -> list[Path]:
    """Tokenizer and vocabulary of the model of the same kind that came with the install."""
    same = next(m for m in catalog().values() if m.wheel and m.name.endswith(".en") != multilingual)
    if whereabouts(same) is None:
        raise ModelError(f"The speech model {same.name} must be installed to convert others.")
    folder = find_weights(same.name).folder
    return [folder / name for name in BESIDE]


def _alignment_heads(name: str, dims: dict[str, int]) -> list[list[int]]:
    """Whisper's own constants: the cross-attention heads that follow time."""
    import base64
    import gzip

    import whisper

    packed = gzip.decompress(base64.b85decode(whisper._ALIGNMENT_HEADS[name]))
    mask = np.frombuffer(packed, dtype=bool).reshape(dims["n_text_layer"], dims["n_text_head"])
    return [[int(layer), int(head)] for layer, head in np.argwhere(mask)]


def whisper_spec(checkpoint: dict[str, Any], heads: list[list[int]]) -> Any:
    """CTranslate2's WhisperSpec filled from Whisper's state dict; convert.py turned round."""
    from ctranslate2.specs import WhisperSpec

    dims = checkpoint["dims"]
    weights = {k: v.float().numpy() for k, v in checkpoint["model_state_dict"].items()}
    spec = WhisperSpec(
        dims["n_audio_layer"], dims["n_audio_head"], dims["n_text_layer"], dims["n_text_head"]
    )
    spec.config.alignment_heads = heads
    spec.config.suppress_ids_begin = [220, 50256 + (dims["n_vocab"] >= 51_865)]
    for side, part in (("encoder", spec.encoder), ("decoder", spec.decoder)):
        part.position_encodings.encodings = weights[f"{side}.positional_embedding"]
        for i, layer in enumerate(part.layer):
            _fill_layer(layer, weights, f"{side}.blocks.{i}.")
    for conv in ("conv1", "conv2"):
        _fill(getattr(spec.encoder, conv), weights, [f"encoder.{conv}"])
    _fill_norm(spec.encoder.layer_norm, weights, "encoder.ln_post")
    _fill_norm(spec.decoder.layer_norm, weights, "decoder.ln")
    spec.decoder.embeddings.weight = weights["decoder.token_embedding.weight"]
    spec.decoder.projection.weight = spec.decoder.embeddings.weight
    return spec


def _fill_layer(layer: Any, weights: dict[str, Any], name: str) -> None:
    attention = layer.self_attention
    _fill_norm(attention.layer_norm, weights, f"{name}attn_ln")
    _fill(attention.linear[0], weights, [f"{name}attn.{p}" for p in ("query", "key", "value")])
    _fill(attention.linear[1], weights, [f"{name}attn.out"])
    if f"{name}cross_attn.query.weight" in weights:
        cross = layer.attention
        _fill_norm(cross.layer_norm, weights, f"{name}cross_attn_ln")
        _fill(cross.linear[0], weights, [f"{name}cross_attn.query"])
        _fill(cross.linear[1], weights, [f"{name}cross_attn.{p}" for p in ("key", "value")])
        _fill(cross.linear[2], weights, [f"{name}cross_attn.out"])
    _fill_norm(layer.ffn.layer_norm, weights, f"{name}mlp_ln")
    _fill(layer.ffn.linear_0, weights, [f"{name}mlp.0"])
    _fill(layer.ffn.linear_1, weights, [f"{name}mlp.2"])


def _fill(spec: Any, weights: dict[str, Any], names: list[str]) -> None:
    """One linear layer or convolution from the projections that are joined in it."""
    spec.weight = np.concatenate([weights[f"{n}.weight"] for n in names])
    none = np.zeros(len(weights[f"{names[0]}.weight"]), np.float32)  # a key has no bias
    spec.bias = np.concatenate([weights.get(f"{n}.bias", none) for n in names])


def _fill_norm(spec: Any, weights: dict[str, Any], name: str) -> None:
    spec.gamma, spec.beta = weights[f"{name}.weight"], weights[f"{name}.bias"]
