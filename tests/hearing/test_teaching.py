"""What the recogniser is taught, as models/hearing makes it: texts, voices, adapters joined."""

from __future__ import annotations

import random
import re
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[2] / "models" / "hearing"))

from average import average
from speak import names
from texts import drill, narrated, plain, signal
from written import numbers, say, varied, written

from fieldvoice.number_words import CARDINALS, ORDINALS

NUMBER_WORDS = {*CARDINALS, "hundred", "thousand", "and", "point", *ORDINALS, "st", "nd", "th"}


def others(text: str) -> list[str]:
    """All words but those of numbers."""
    return [w for w in re.findall("[A-Za-z]+", text) if w.lower() not in NUMBER_WORDS]


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("Twenty two frames of bees.", "22 frames of bees."),
        ("I saw four frames of brood.", "I saw four frames of brood."),
        ("Hive four has ten frames.", "Hive 4 has 10 frames."),
        ("Back at nuc two, and colony nineteen.", "Back at nuc 2, and colony 19."),
        ("Four. Light, this one.", "4. Light, this one."),
        ("Split it on the fifteenth of March.", "Split it on the 15th of March."),
        ("By the twenty-second, or the thirty first.", "By the 22nd, or the 31st."),
        ("The second box, the third time.", "The second box, the third time."),
        ("Moisture is eighteen point five.", "Moisture is 18.5."),
        ("Two to one, a hundred and one mites.", "Two to one, a hundred and one mites."),
        ("Two hundred and five mites and ten drones.", "205 mites and 10 drones."),
        ("One of them is number one.", "One of them is number 1."),
    ],
)
def test_numbers_are_written_as_a_transcript_should_have_them(said: str, meant: str) -> None:
    assert written(said) == meant


@given(st.integers(0, 999_999), st.randoms(use_true_random=False))
def test_a_number_that_is_said_is_the_number_that_is_read(number: int, rng: random.Random) -> None:
    said = say(number, rng)
    (read,) = numbers(said)
    assert (read.start, read.end, read.value) == (0, len(said), number)


PLAIN = st.sampled_from(["hive", "frames", "of", "brood,", "bees.", "the", "is", "Queen", "to"])
SAID = st.one_of(PLAIN, st.integers(0, 9999).map(say), st.sampled_from(sorted(ORDINALS)))


@given(st.lists(SAID).map(" ".join), st.randoms(use_true_random=False))
def test_only_numbers_are_written_otherwise(said: str, rng: random.Random) -> None:
    other = varied(said, rng, 0.5)
    assert others(said) == others(other) == others(written(said)) == others(written(other))


@given(st.randoms(use_true_random=False))
def test_drills_and_signals_are_written_with_the_words_that_are_said(rng: random.Random) -> None:
    for made in (drill(rng), signal(rng, ["Six frames. Hive two, twelve seams."])):
        assert others(made.spoken) == others(made.written)
        assert not re.search(r"[{}\d]", made.spoken)


def test_narrations_with_digits_or_misheard_words_teach_nothing(tmp_path: Path) -> None:
    path = tmp_path / "narrations.jsonl"
    path.write_text(
        '{"text": "Hive two. Three frames of brood in the new nuke. She is laying well."}\n'
        '{"text": "Hive 2 has 3 frames."}\n'
    )
    (text,) = narrated(path, random.Random(1))
    assert text == "Hive two. She is laying well."


def test_plain_sentences_are_found_in_texts_of_any_kind(tmp_path: Path) -> None:
    path = tmp_path / "wisdom"
    path.write_text(
        "A patient keeper\nwaits for warm weather.\n\t\t-- Somebody\n%\nSee page 12 (b)!\n%\n"
        "Rain on the roof is a good excuse.\n"
    )
    assert plain([path], random.Random(1)) == [
        "A patient keeper waits for warm weather.",
        "Rain on the roof is a good excuse.",
    ]


def test_voices_that_are_held_back_do_not_teach(tmp_path: Path) -> None:
    (tmp_path / "voices").mkdir()
    for name in ("af_nova", "bm_lewis", "af_sky", "bm_fable", "jf_alpha"):
        (tmp_path / "voices" / f"{name}.npy").touch()
    assert names(tmp_path) == (["af_sky", "bm_fable"], ["jf_alpha"])


def test_an_average_of_adapters_does_what_their_mean_does() -> None:
    rng = np.random.default_rng(1)
    adapters = [
        {"m.A": rng.normal(size=(rank, 7)), "m.B": rng.normal(size=(5, rank))} for rank in (2, 3)
    ]
    mean = np.mean([one["m.B"] @ one["m.A"] for one in adapters], axis=0)
    whole, part = average(adapters), average(adapters, 0.6)
    np.testing.assert_allclose(whole["m.B"] @ whole["m.A"], mean, rtol=1e-4, atol=1e-5)
    np.testing.assert_allclose(part["m.B"] @ part["m.A"], 0.6 * mean, rtol=1e-4, atol=1e-5)
    assert whole["m.A"].shape == (5, 7)


def test_adapters_of_other_modules_are_not_averaged() -> None:
    one = {"m.A": np.zeros((1, 2)), "m.B": np.zeros((2, 1))}
    other = {"n.A": np.zeros((1, 2)), "n.B": np.zeros((2, 1))}
    with pytest.raises(ValueError, match="different modules"):
        average([one, other])
