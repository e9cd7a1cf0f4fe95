from __future__ import annotations

import time

import numpy as np
import pytest
from hearing_sounds import librivox, load
from hypothesis import given, settings
from hypothesis import strategies as st
from threadpoolctl import threadpool_limits

from fieldvoice.hearing.engines import Engine
from fieldvoice.hearing.engines.openai import load_whisper
from fieldvoice.hearing.scoring import Scene, TextDecoder
from fieldvoice.hearing.weights import find_weights

TEXT = "And Mr. John Dashwood had then leisure to consider"


@pytest.fixture(scope="module")
def memory(ctranslate2: Engine) -> np.ndarray:
    return ctranslate2.memory(ctranslate2.encode(load(librivox()[0][0])))


@pytest.fixture(scope="module")
def decoder() -> TextDecoder:
    return TextDecoder(find_weights("tiny.en").folder)


@pytest.fixture(scope="module")
def scene(ctranslate2: Engine, decoder: TextDecoder, memory: np.ndarray) -> Scene:
    return decoder.listen(memory, [*ctranslate2.lead(""), *ctranslate2.tokens(TEXT)])


def reference(memory: np.ndarray, before: list[int], text: list[int]) -> float:
    """openai-whisper's own decoder over the whole sequence."""
    import torch

    network = load_whisper(find_weights("tiny.en").folder, "tiny.en")
    with torch.inference_mode():
        logits = network.decoder(torch.tensor([before + text]), torch.from_numpy(memory)[None])
    chance = logits[0].log_softmax(-1)
    return sum(float(chance[len(before) - 1 + i, token]) for i, token in enumerate(text))


@pytest.mark.parametrize("cut", [2, 7, 12])
def test_scores_are_those_of_whispers_decoder(
    ctranslate2: Engine, scene: Scene, memory: np.ndarray, cut: int
) -> None:
    before = [*ctranslate2.lead(""), *ctranslate2.tokens(TEXT)][:cut]
    texts = ["John Dashwood had", "John Dashwood has", "hive 7, two frames", "John"]
    tokens = [ctranslate2.tokens(text) for text in texts]
    for text, score in zip(tokens, scene.scores(cut, tokens), strict=True):
        exact = reference(memory, before, text)
        # Rare tokens are not in the sum of all chances, so a text seems a little likelier.
        assert exact - 2e-3 <= score <= exact + 0.1 - 0.02 * exact


def test_both_engines_outputs_are_weighed_alike(
    ctranslate2: Engine, whisper: Engine, decoder: TextDecoder
) -> None:
    sound = load(librivox()[0][0])
    texts = [ctranslate2.tokens(t) for t in ("And Mr. John", "And Mr. Tom", "hive 7")]
    one, other = (
        decoder.listen(e.memory(e.encode(sound)), e.lead("")).scores(len(e.lead("")), texts)
        for e in (ctranslate2, whisper)
    )
    assert np.argmax(one) == np.argmax(other) == 0
    assert one == pytest.approx(other, abs=1.0, rel=0.1)  # int8 against float32


@settings(max_examples=20, deadline=None)
@given(st.lists(st.lists(st.integers(0, 300), min_size=1, max_size=5), min_size=1, max_size=6))
def test_company_does_not_change_a_score(scene: Scene, texts: list[list[int]]) -> None:
    together = scene.scores(5, texts)
    assert together == pytest.approx([scene.scores(5, [t])[0] for t in texts], abs=2e-3)


def test_a_mention_is_weighed_in_a_quarter_of_a_second(ctranslate2: Engine, scene: Scene) -> None:
    """All 48 labels, then six of them in three ways with the words that follow; one core."""
    register = [ctranslate2.tokens(f"hive {n}") for n in range(1, 49)]
    short = [
        ctranslate2.tokens(f"hive {n}{sign} two frames")
        for n in range(3, 9)
        for sign in (".", ",", "")
    ]
    took = []
    with threadpool_limits(1, "blas"):
        for _ in range(5):
            begun = time.thread_time()
            scene.scores(7, register)
            scene.scores(7, short)
            took.append(time.thread_time() - begun)
    assert sorted(took)[2] < 0.25
