from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import librivox, load

from fieldvoice.errors import ModelError
from fieldvoice.hearing import convert
from fieldvoice.hearing.engines.ctranslate import CTranslate2Engine
from fieldvoice.hearing.engines.openai import load_whisper
from fieldvoice.hearing.fetch import write_folder
from fieldvoice.hearing.weights import find_weights


@pytest.mark.parametrize("name", ["tiny.en", "base"])
def test_every_weight_of_whisper_is_matched_and_no_other(name: str) -> None:
    import torch
    from whisper.model import ModelDimensions, Whisper

    arrays = convert.read_model_bin(find_weights(name).folder / "model.bin")
    state = convert.state_dict(arrays)
    network = Whisper(ModelDimensions(**convert.dimensions(arrays)))
    fit = network.load_state_dict({k: torch.from_numpy(v.copy()) for k, v in state.items()})
    assert str(fit) == "<All keys matched successfully>"


def test_the_dimensions_are_those_of_whispers_table() -> None:
    """Radford et al. 2022, table 1: tiny 4 layers, width 384, 6 heads; base 6, 512, 8."""
    for name, (layers, width, heads) in {"tiny.en": (4, 384, 6), "base": (6, 512, 8)}.items():
        arrays = convert.read_model_bin(find_weights(name).folder / "model.bin")
        found = convert.dimensions(arrays)
        for side in ("audio", "text"):
            assert found[f"n_{side}_layer"] == layers
            assert found[f"n_{side}_state"] == width
            assert found[f"n_{side}_head"] == heads


@pytest.mark.parametrize("name", ["tiny.en", "base"])
def test_both_engines_encode_the_same_sound_alike(name: str) -> None:
    import torch
    from whisper.audio import log_mel_spectrogram, pad_or_trim

    folder = find_weights(name).folder
    # as long as Whisper makes it: what is heard beside silence is heard a little otherwise
    sound = np.asarray(pad_or_trim(load(librivox()[0][0])))
    with torch.inference_mode():
        mel = log_mel_spectrogram(torch.from_numpy(sound))
        reference = load_whisper(folder, name).encoder(mel[None])[0].numpy()

    def apart(compute_type: str) -> float:
        engine = CTranslate2Engine(folder, name, compute_type=compute_type)
        ours = np.array(engine.encode(sound))[0]
        return float(np.linalg.norm(ours - reference) / np.linalg.norm(reference))

    # float16 keeps 11 bits: 2**-11 = 0.0005 a value; a few layers add up to some thousandths.
    assert apart("float32") < 0.005
    assert 0.005 < apart("int8") < 0.1


def test_the_official_layout_converts_to_the_same_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whisper's checkpoint -> CTranslate2 -> the same numbers, and an engine that hears."""
    import torch

    arrays = convert.read_model_bin(find_weights("tiny.en").folder / "model.bin")
    checkpoint = {
        "dims": convert.dimensions(arrays),
        "model_state_dict": {
            k: torch.from_numpy(v.copy()) for k, v in convert.state_dict(arrays).items()
        },
    }
    write_folder(checkpoint, tmp_path / "made", "tiny.en")
    made = convert.read_model_bin(tmp_path / "made" / "model.bin")
    for name, array in arrays.items():
        if array.dtype == np.float16:
            assert np.array_equal(made[name], array), name

    clip, _ = librivox()[1]
    engine = CTranslate2Engine(tmp_path / "made", "tiny.en")
    encoded = engine.encode(load(clip))
    decoded = engine.generate(encoded, "")
    assert "disposed young man" in decoded.text
    assert engine.align(encoded, decoded.tokens, 3.0)[-1].word.startswith("man")


@pytest.mark.parametrize("raw", [b"", b"\6\0\0\0", b"not a model at all" * 10, b"\7" * 64])
def test_another_file_is_refused(tmp_path: Path, raw: bytes) -> None:
    (tmp_path / "model.bin").write_bytes(raw)
    with pytest.raises(ModelError, match="not a Whisper model"):
        convert.read_model_bin(tmp_path / "model.bin")
