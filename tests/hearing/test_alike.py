from __future__ import annotations

import numpy as np
import pytest
from hearing_sounds import ASTERISK, RATE, load
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.alike import twin, weigh_alike, worth_weighing
from fieldvoice.hearing.beside import beside
from fieldvoice.hearing.engines import Decoded, Engine, Opinion, Timed
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


class Hears:
    """A judge that likes texts as it is told, whatever stands around them."""

    lead = 0

    def __init__(self, **likes: float) -> None:
        self.likes = likes

    def rank(self, after: int, texts: list[str]) -> list[float]:
        return [self.likes.get(f"_{t.strip('.,')}", -30.0) for t in texts]

    def weigh(self, after: int, texts: list[str], rest: str) -> list[float]:
        return self.rank(after, texts)


def both(said: str, first: Hears, theirs: str, **chances: float) -> tuple[str, list[list[str]]]:
    """The words and the doubts' readings; `chances` are the second model's at every word."""
    words = [Timed(w, i, i + 1, 0.9) for i, w in enumerate(said.split())]
    heard = tuple(theirs.split())
    known = {word: 0.0 for word in heard} | {k.strip("_"): v for k, v in chances.items()}
    opinion = Opinion(Decoded(theirs, (), 0.0, -0.2), heard, (known,) * len(heard))
    out, doubts = weigh_alike(words, first, YARD, (), beside(words, opinion))  # type: ignore[arg-type]
    return " ".join(w.word for w in out), [[r.text for r in d.readings] for d in doubts]


def test_the_number_that_both_models_together_find_likelier_is_kept() -> None:
    first, said = Hears(_15=0.0, _50=-2.0), "it took 15 minutes"
    assert both(said, first, "it took 50 minutes", _15=-3.0, _50=0.0) == (
        "it took 50 minutes",
        [["50", "15"]],
    )
    assert both(said, first, "it took 50 minutes", _15=-1.0, _50=0.0) == (
        "it took 15 minutes",
        [["15", "50"]],
    )


@pytest.mark.parametrize(("chance", "doubts"), [(-5.0, [["15", "50"]]), (-20.0, [])])
def test_a_twin_that_neither_model_rules_out_is_a_doubt(
    chance: float, doubts: list[list[str]]
) -> None:
    """Both heard 15, and the first is sure of it: still 50 when the second is not."""
    first, said = Hears(_15=0.0, _50=-4.0), "it took 15 minutes"
    assert both(said, first, said, _15=0.0, _50=chance) == (said, doubts)


def test_a_second_model_that_is_sure_settles_a_small_lead() -> None:
    first, said = Hears(_15=0.0, _50=-1.0), "it took 15 minutes"
    assert len(both(said, first, "it was warm", _15=0.0, _50=-20.0)[1]) == 1
    assert both(said, first, said, _15=0.0, _50=-20.0) == (said, [])


@pytest.mark.parametrize(
    ("likes", "chances", "now", "doubts"),
    [
        ({"iron": 0.0, "_9": -6.0}, {"iron": 0.0, "9": -2.0}, "iron", [["iron", "9"]]),
        ({"iron": 0.0, "_9": -2.0}, {"iron": -4.0, "9": 0.0}, "9", [["9", "iron"]]),
        ({"iron": 0.0, "_9": -12.0}, {"iron": 0.0, "9": -9.0}, "iron", []),
    ],
)
def test_a_word_where_a_number_belongs_is_weighed_against_numbers(
    likes: dict[str, float], chances: dict[str, float], now: str, doubts: list[list[str]]
) -> None:
    judge = Hears(_drawn=30.0, **{f"_{k.strip('_')}": v for k, v in likes.items()})
    text, found = both("iron drawn frames", judge, "iron drawn frames", **chances)
    assert (text, [readings[:2] for readings in found]) == (f"{now} drawn frames", doubts)


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
