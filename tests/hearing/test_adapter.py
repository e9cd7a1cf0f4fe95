"""The adapter of the default model: added once, checked, refused where it does not fit.

What is checked against the outside: low-rank adaptation as published (Hu et al. 2021,
"LoRA: Low-Rank Adaptation of Large Language Models", equation 3: h = W x + B A x), worked
out by PyTorch here; human speech of Debian's pocketsphinx-testdata and asterisk prompts.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import torch
from hearing_sounds import cards, librivox, load, word_errors

from fieldvoice.errors import ModelError
from fieldvoice.hearing import convert, weights
from fieldvoice.hearing.adapter import apply_adapter
from fieldvoice.hearing.catalog import known, untaught
from fieldvoice.hearing.engines.ctranslate import CTranslate2Engine
from fieldvoice.hearing.weights import find_weights
from fieldvoice.locate import shipped

ADAPTER = shipped("models") / known("yard").adapter


def test_a_taught_layer_does_what_the_published_equation_says() -> None:
    before = convert.state_dict(
        convert.read_model_bin(find_weights("tiny.en").folder / "model.bin")
    )
    after = convert.state_dict(convert.read_model_bin(find_weights("yard").folder / "model.bin"))
    pairs = np.load(ADAPTER)
    taught = {name[:-2] for name in pairs.files}
    x = torch.randn(5, 384, generator=torch.Generator().manual_seed(1))
    for layer in ("encoder.blocks.2.attn.value", "decoder.blocks.0.cross_attn.out"):
        w, a, b = (
            torch.from_numpy(m.astype(np.float32))
            for m in (before[f"{layer}.weight"], pairs[f"{layer}.A"], pairs[f"{layer}.B"])
        )
        h = x @ w.T + (x @ a.T) @ b.T
        ours = x @ torch.from_numpy(after[f"{layer}.weight"].astype(np.float32)).T
        torch.testing.assert_close(ours, h, atol=2e-2, rtol=1e-2)  # kept in float16
        assert not np.array_equal(before[f"{layer}.weight"], after[f"{layer}.weight"])
    # Word times come from these, and were left as they are.
    for name in before:
        if name.removesuffix(".weight") not in taught:
            assert np.array_equal(before[name], after[name]), name
    assert not any("cross_attn.query" in n or "cross_attn.key" in n for n in taught)


def test_the_model_as_it_came_is_not_changed() -> None:
    find_weights("yard")
    assert find_weights("tiny.en").model == "tiny.en"  # its hash is checked on the way
    assert untaught("yard") == "tiny.en" and untaught("base") == "base"


def test_an_adapter_that_was_changed_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIELDVOICE_CACHE", str(tmp_path / "cache"))
    (tmp_path / "models" / "hearing").mkdir(parents=True)
    copy = shutil.copyfile(ADAPTER, tmp_path / "models" / "hearing" / "yard.npz")
    monkeypatch.setattr(weights, "shipped", lambda name: tmp_path / name)
    with copy.open("r+b") as file:
        file.seek(1_000_000)
        file.write(b"\0\1\2\3")
    with pytest.raises(ModelError, match="this is not the speech model yard"):
        find_weights("yard")
    assert not list((tmp_path / "cache" / "models").glob("yard*"))


def test_a_taught_model_that_was_changed_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FIELDVOICE_CACHE", str(tmp_path))
    with (find_weights("yard").folder / "model.bin").open("r+b") as file:
        file.seek(40_000_000)
        file.write(b"\0\1\2\3")
    with pytest.raises(ModelError, match="this is not the speech model yard"):
        find_weights("yard")


@pytest.mark.parametrize("change", ["another size", "an unknown layer", "no archive"])
def test_an_adapter_that_does_not_fit_is_one_sentence(tmp_path: Path, change: str) -> None:
    model = shutil.copyfile(find_weights("tiny.en").folder / "model.bin", tmp_path / "model.bin")
    adapter = tmp_path / "other.npz"
    layer = "encoder.blocks.0.attn.value"
    if change == "another size":
        np.savez(adapter, **{f"{layer}.A": np.ones((2, 512)), f"{layer}.B": np.ones((512, 2))})
    elif change == "an unknown layer":
        np.savez(adapter, **{"encoder.blocks.9.attn.value.A": np.ones((2, 384))})
    else:
        adapter.write_bytes(b"no archive")
    with pytest.raises(ModelError, match="does not fit the speech model"):
        apply_adapter(model, adapter)


def test_human_speech_is_heard_no_worse_than_before_it_was_taught() -> None:
    """LibriVox sentences and playing cards: nobody who taught the model speaks there."""
    clips = [*librivox(), *cards()]
    said = [text for _, text in clips]
    rates = {}
    for name in ("tiny.en", "yard"):
        engine = CTranslate2Engine(find_weights(name).folder, name)
        heard = [engine.generate(engine.encode(load(path)), "").text for path, _ in clips]
        rates[name] = word_errors(said, heard)
    assert rates["yard"] <= rates["tiny.en"] + 0.01, rates
