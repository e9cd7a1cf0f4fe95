from __future__ import annotations

import numpy as np
import pytest
from hearing_sounds import ASTERISK, RATE, load
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.alike import twin, weigh_alike, worth_weighing
from fieldvoice.hearing.engines import Engine, Timed
from fieldvoice.hearing.judges import Judges
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.trade.load import trade_file


@pytest.mark.parametrize(
    ("number", "other"),
    [(13, 30), (50, 15), (19, 90), (115, 150), (180, 118), (20, None), (12, None), (55, None)],
)
def test_numbers_that_sound_alike(number: int, other: int | None) -> None:
    assert twin(number) == other


@given(st.integers(0, 999))
def test_twins_are_each_others(number: int) -> None:
    other = twin(number)
    assert other is None or twin(other) == number


YARD = vocabulary_from(trade_file("speech"))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("give them for gallons of syrup", ["for"]),
        ("eggs and free capped cells", ["free"]),
        ("a frame of brood", []),
        ("I came for you. Gallons", []),
        ("put 7 in the box for now", ["7"]),
        ("she laid for 13 days and it came to 8 mites", ["13", "8"]),
    ],
)
def test_words_that_sound_like_numbers_are_asked_about_before_what_is_counted(
    text: str, found: list[str]
) -> None:
    words = [Timed(w, i, i + 1, 0.9) for i, w in enumerate(text.split())]
    assert [w.word for i, w in enumerate(words) if worth_weighing(words, i, YARD)] == found


NUMBERS = (13, 14, 15, 16, 17, 18, 19, 30, 40, 50, 60, 70, 80, 90)


def weighed(engine: Engine, said: int, written: int) -> tuple[str, int]:
    """A human "seven, SAID" in which WRITTEN was heard: the word that stands now, the doubts."""
    quiet = np.zeros(RATE // 3, np.float32)
    clips = [load(ASTERISK / "digits" / f"{n}.g722") for n in (7, said)]
    encoded = engine.encode(np.concatenate([quiet, clips[0], quiet, clips[1], quiet]))
    words = [
        Timed(w, i, i + 1, 0.9, tuple(engine.tokens(w)))
        for i, w in enumerate(["7,", f"{written}."])
    ]
    out, doubts = weigh_alike(words, Judges(engine, "").judge(encoded, words), YARD)
    return out[1].word, sum(doubt.start >= 1 for doubt in doubts)


def test_a_counted_thing_makes_a_number_of_what_sounds_like_one() -> None:
    """The decoder need not prefer it: nobody says "for gallons"; it is a doubt."""

    class Hears:
        lead = 0

        def weigh(self, after: int, texts: list[str], rest: str) -> list[float]:
            return [2.6, -1.3] if texts == ["for", "4"] else [0.0, -20.0]

    words = [
        Timed(w, i, i + 1, 0.9)
        for i, w in enumerate(["give", "them", "for", "gallons", "of", "it"])
    ]
    out, (doubt,) = weigh_alike(words, Hears(), YARD)  # type: ignore[arg-type]
    assert [w.word for w in out] == ["give", "them", "4", "gallons", "of", "it"]
    assert [r.text for r in doubt.readings] == ["4", "for"]
    words = [Timed(w, i, i + 1, 0.9) for i, w in enumerate(["this", "is", "for", "the", "gallons"])]
    assert weigh_alike(words, Hears(), YARD) == (words, [])  # type: ignore[arg-type]


@pytest.mark.parametrize("said", NUMBERS)
def test_a_wrong_twin_is_put_right_and_doubted_on_human_speech(
    ctranslate2: Engine, said: int
) -> None:
    other = twin(said)
    assert other is not None
    assert weighed(ctranslate2, said, other) == (f"{said}.", 1)


def test_right_numbers_stay_and_most_are_not_doubted(ctranslate2: Engine) -> None:
    found = [weighed(ctranslate2, n, n) for n in NUMBERS]
    assert [word for word, _ in found] == [f"{n}." for n in NUMBERS]
    assert sum(doubts for _, doubts in found) <= 4
