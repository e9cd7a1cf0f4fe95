"""CTranslate2's model.bin and openai-whisper's state dict: the same weights, two layouts.

CTranslate2 joins projections of the same input (self-attention: query, key, value;
cross-attention: key, value), keeps the key's bias, which Whisper has not, as zeros, and
pads or trims the vocabulary. Nothing else differs; both keep float16.
File layout: CTranslate2, python/ctranslate2/specs/model_spec.py, binary version 6.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fieldvoice.errors import ModelError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Arrays = dict[str, NDArray[Any]]

DTYPES = (np.float32, np.int8, np.int16, np.int32, np.float16)  # numbered as in the file
VERSION = 6
VOCABULARY = {True: 51_865, False: 51_864}  # rows of the embeddings: multilingual, English


def read_model_bin(path: Path, *, change: bool = False) -> Arrays:
    """All variables of a WhisperSpec file by name, mapped into memory, not read.

    With `change`, what is written into them is written into the file.

    Raises:
        ModelError: not such a file, or a version this reader does not know.
    """
    try:
        data = np.memmap(path, dtype=np.uint8, mode="r+" if change else "r")
        return dict(_variables(data))
    except (struct.error, IndexError, ValueError, UnicodeDecodeError) as error:
        raise ModelError(
            f"{path}: not a Whisper model in CTranslate2's format ({error}). Install it again."
        ) from error


def _variables(data: NDArray[np.uint8]) -> Iterator[tuple[str, NDArray[Any]]]:
    at = 0

    def number(kind: str) -> int:
        nonlocal at
        size = struct.calcsize(f"<{kind}")
        (value,) = struct.unpack(f"<{kind}", data[at : at + size].tobytes())
        at += size
        return int(value)

    def text() -> str:
        nonlocal at
        length = number("H")
        at += length
        return data[at - length : at].tobytes().rstrip(b"\0").decode("ascii")

    version, spec, _revision = number("I"), text(), number("I")
    if version != VERSION or spec != "WhisperSpec":
        raise ValueError(f"version {version} of {spec!r}")
    for _ in range(number("I")):
        name = text()
        shape = [number("I") for _ in range(number("B"))]
        dtype = np.dtype(DTYPES[number("B")])
        size = number("I")
        yield name, data[at : at + size].view(dtype).reshape(shape)
        at += size


def state_dict(arrays: Arrays) -> Arrays:
    """Whisper's names and shapes from CTranslate2's; the encoder's positions are given too."""
    out: Arrays = {}
    for side in ("encoder", "decoder"):
        for i in range(_layers(arrays, side)):
            out.update(_layer(arrays, f"{side}/layer_{i}/", f"{side}.blocks.{i}."))
    for conv in ("conv1", "conv2"):
        for kind in ("weight", "bias"):
            out[f"encoder.{conv}.{kind}"] = arrays[f"encoder/{conv}/{kind}"]
    out |= _norm(arrays, "encoder/layer_norm", "encoder.ln_post")
    out |= _norm(arrays, "decoder/layer_norm", "decoder.ln")
    out["encoder.positional_embedding"] = arrays["encoder/position_encodings/encodings"]
    out["decoder.positional_embedding"] = arrays["decoder/position_encodings/encodings"]
    embeddings = arrays["decoder/embeddings/weight"]
    out["decoder.token_embedding.weight"] = embeddings[: vocabulary(arrays)]
    return out


def vocabulary(arrays: Arrays) -> int:
    """Rows of the embeddings that Whisper has; CTranslate2 may have padded them."""
    return VOCABULARY[len(arrays["decoder/embeddings/weight"]) >= VOCABULARY[True]]


def dimensions(arrays: Arrays) -> dict[str, int]:
    """The fields of whisper.model.ModelDimensions."""
    return {
        "n_mels": arrays["encoder/conv1/weight"].shape[1],
        "n_audio_ctx": arrays["encoder/position_encodings/encodings"].shape[0],
        "n_audio_state": len(arrays["encoder/layer_norm/gamma"]),
        "n_audio_head": int(arrays["encoder/num_heads"]),
        "n_audio_layer": _layers(arrays, "encoder"),
        "n_vocab": vocabulary(arrays),
        "n_text_ctx": arrays["decoder/position_encodings/encodings"].shape[0],
        "n_text_state": len(arrays["decoder/layer_norm/gamma"]),
        "n_text_head": int(arrays["decoder/num_heads"]),
        "n_text_layer": _layers(arrays, "decoder"),
    }


def _layers(arrays: Arrays, side: str) -> int:
    """Transformer blocks of the encoder or decoder."""
    blocks = {name.split("/")[1] for name in arrays if name.startswith(f"{side}/layer_")}
    return len(blocks - {"layer_norm"})


def _layer(arrays: Arrays, old: str, new: str) -> Arrays:
    """One transformer block, projections split again."""
    out = _norm(arrays, f"{old}self_attention/layer_norm", f"{new}attn_ln")
    out |= _split(arrays, f"{old}self_attention/linear_0", f"{new}attn.", ("query", "key", "value"))
    out |= _split(arrays, f"{old}self_attention/linear_1", f"{new}attn.", ("out",))
    if f"{old}attention/linear_0/weight" in arrays:
        out |= _norm(arrays, f"{old}attention/layer_norm", f"{new}cross_attn_ln")
        out |= _split(arrays, f"{old}attention/linear_0", f"{new}cross_attn.", ("query",))
        out |= _split(arrays, f"{old}attention/linear_1", f"{new}cross_attn.", ("key", "value"))
        out |= _split(arrays, f"{old}attention/linear_2", f"{new}cross_attn.", ("out",))
    out |= _norm(arrays, f"{old}ffn/layer_norm", f"{new}mlp_ln")
    out |= _split(arrays, f"{old}ffn/linear_0", f"{new}mlp.", ("0",))
    out |= _split(arrays, f"{old}ffn/linear_1", f"{new}mlp.", ("2",))
    return out


def _norm(arrays: Arrays, old: str, new: str) -> Arrays:
    return {f"{new}.weight": arrays[f"{old}/gamma"], f"{new}.bias": arrays[f"{old}/beta"]}


def _split(arrays: Arrays, old: str, new: str, names: tuple[str, ...]) -> Arrays:
    """Equal chunks of a joined projection; a key has no bias in Whisper."""
    out: Arrays = {}
    for kind in ("weight", "bias"):
        chunks = np.split(arrays[f"{old}/{kind}"], len(names))
        out |= {
            f"{new}{name}.{kind}": chunk
            for name, chunk in zip(names, chunks, strict=True)
            if (name, kind) != ("key", "bias")
        }
    return out
