from __future__ import annotations

import math

import numpy as np
import pytest
from hearing_sounds import ASTERISK, RATE, load

from fieldvoice.hearing.beside import beside, opening, to_ask, writings
from fieldvoice.hearing.engines import Decoded, Opinion, Timed
from fieldvoice.hearing.engines.ctranslate import CTranslate2Engine
from fieldvoice.hearing.transcribe import hear
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.trade.load import trade_file


def heard(text: str) -> list[Timed]:
    return [Timed(w, i, i + 0.8, 0.9, (i,)) for i, w in enumerate(text.split())]


def opinion(text: str, **chances: float) -> Opinion:
    words = tuple(text.split())
    known = {k.strip("_"): v for k, v in chances.items()}
    return Opinion(Decoded(text, (), 0.0, -0.2), words, (known,) * len(words))


def test_words_stand_beside_those_that_were_heard_in_their_place() -> None:
    laid = beside(heard("he took four pounds of it"), opinion("he took 40 pounds it"))
    assert [laid.word(at) for at in range(6)] == ["he", "took", "40", "pounds", None, "it"]


def test_a_number_is_as_likely_as_all_its_writings_together() -> None:
    laid = beside(heard("took 4"), opinion("took four.", _4=math.log(0.2), four=math.log(0.3)))
    assert laid.chance(1, "4,") == pytest.approx(math.log(0.5))
    assert laid.chance(1, "5") is None


def test_a_word_for_two_of_ours_has_no_say_in_either() -> None:
    laid = beside(heard("two to one"), opinion("2:1", _2=0.0, _1=-5.0))
    assert laid.chance(2, "one") is None


def test_numbers_labels_and_own_words_are_asked_about() -> None:
    asked = to_ask(heard("with iron combs."), ["7", "A3"])
    assert {"iron", "combs", "nine", "9", "Nine", "A"} <= set(asked)
    assert writings(115) == ("115",)
    assert [opening(label) for label in ("7", "A3", "nuc 2")] == ["7", "A", "2"]


def digits(*numbers: int) -> np.ndarray:
    """A human voice that says numbers, one after another."""
    quiet = np.zeros(RATE // 3, np.float32)
    clips = [load(ASTERISK / "digits" / f"{n}.g722") for n in numbers]
    return np.concatenate([part for clip in clips for part in (quiet, clip)] + [quiet])


def test_an_engine_finds_what_a_human_said_likelier_than_other_numbers(
    ctranslate2: CTranslate2Engine,
) -> None:
    encoded = ctranslate2.encode(digits(7, 15, 12))
    asked = to_ask([], [])
    found = ctranslate2.opine(encoded, "", asked)
    assert found.decoded == ctranslate2.generate(encoded, "", beam=1)
    assert list(found.words) == found.decoded.text.split()
    laid = beside([Timed(w, i, i + 1, 1) for i, w in enumerate(found.words)], found)
    for at, said in enumerate((7, 15, 12)):
        chances = {n: laid.chance(at, str(n)) for n in (*range(1, 20), 30, 50)}
        assert max(chances, key=lambda n: chances[n] or -math.inf) == said


class Sure(CTranslate2Engine):
    """A second model that hears 50 for each 15 and is as sure as can be."""

    def __init__(self, engine: CTranslate2Engine) -> None:
        self.__dict__ = dict(engine.__dict__)
        self.model = "sure"

    def opine(self, encoded: object, prompt: str, texts: object) -> Opinion:
        text = "7, 50, 12."
        known = {"50": 0.0, "15": -90.0, "7": -90.0, "12": -90.0}
        return Opinion(Decoded(text, (), 0.0, -0.2), tuple(text.split()), (known,) * 3)


def test_the_second_model_can_change_a_number_and_it_stays_a_doubt(
    ctranslate2: CTranslate2Engine, tmp_path: object
) -> None:
    from pathlib import Path

    from hearing_sounds import write

    path = write(Path(str(tmp_path)) / "numbers.wav", digits(7, 15, 12), "pcm_s16le")
    yard = vocabulary_from(trade_file("speech"), ["1", "2"])
    alone = hear(path, engine=ctranslate2, vocabulary=yard)
    assert "15" in alone.text
    changed = hear(path, engine=ctranslate2, second=Sure(ctranslate2), vocabulary=yard)
    assert changed.text == alone.text.replace("15", "50")
    (doubt,) = [d for d in changed.doubts if "50" in d.heard]
    assert [r.text.strip(",.") for r in doubt.readings[:2]] == ["50", "15"]
