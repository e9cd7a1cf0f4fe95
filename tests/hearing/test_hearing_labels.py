from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hearing_sounds import ASTERISK, load
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.beside import beside
from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.engines import Decoded, Engine, Opinion, Timed
from fieldvoice.hearing.judges import Judges
from fieldvoice.hearing.labels import Candidate, Choice, choose
from fieldvoice.hearing.relabel import relabel
from fieldvoice.hearing.sites import Site, names_itself, number_in, sites
from fieldvoice.hearing.vocabulary import Vocabulary, vocabulary_from
from fieldvoice.trade.load import trade_file

REGISTER = (*map(str, range(1, 41)), "A1", "A2", "A3", "B4", "nuc 1", "nuc 2", "nuc 3", "nuc 4")
YARD = vocabulary_from(trade_file("speech"), REGISTER)


def heard(text: str) -> list[Timed]:
    return [Timed(w, i, i + 0.8, 0.9, (i,)) for i, w in enumerate(text.split())]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Hive 7. Two frames.", ["Hive 7."]),
        ("so hive A 3 is good", ["hive A 3"]),
        ("high ate, six frames", ["high ate,"]),
        ("Hi 12 has eggs", ["Hi 12"]),
        ("in Hive9 there are", ["Hive9"]),
        ("over at high-free.", ["high-free."]),
        ("at hive 20, two. Give", ["hive 20, two."]),
        ("at hive 20, two frames", ["hive 20,"]),
        ("all right 538, treated", ["538,"]),
        ("the neck 3 is small", ["neck 3"]),
        ("I have seen nothing new here", []),
        ("I gave them sugar", []),
        ("two frames of 560 bees", []),
        ("", []),
    ],
)
def test_places_where_a_label_may_stand(text: str, found: list[str]) -> None:
    words = heard(text)
    places = [" ".join(w.word for w in words[s.first : s.last]) for s in sites(words, YARD)]
    assert places == found


@given(
    st.lists(
        st.sampled_from(
            [
                "hive",
                "Hive",
                "high",
                "7",
                "7.",
                "A",
                "a3",
                "538",
                "nuc",
                "new",
                "2,",
                "to",
                "of",
                "and",
            ]
        )
    )
)
def test_places_are_in_order_and_inside(words: list[str]) -> None:
    at = -1
    for site in sites(heard(" ".join(words)), YARD):
        assert at < site.first < site.last <= len(words)
        at = site.first


@given(st.integers(0, 99))
def test_numbers_are_read_in_digits_and_words(number: int) -> None:
    from num2words import num2words

    assert number_in(f"{number},") == number
    assert number_in(num2words(number).capitalize() + ".") == number


def test_nothing_is_asked_without_a_register() -> None:
    assert list(sites(heard("the neck 3"), vocabulary_from(trade_file("speech")))) == []


def choice(words: list[Timed], *candidates: tuple[str, str | None, float]) -> Choice:
    site = Site(0, 2, "hive", certain=words[0].word == "Hive")
    return Choice(site, 0, 2, tuple(Candidate(*c) for c in candidates))


def test_a_clear_lead_takes_the_place_without_a_doubt() -> None:
    words = heard("high ate, six frames")
    out, doubts = relabel(
        words, [choice(words, ("Hive 8,", "8", -3.0), ("high ate,", None, -9.0), ("Hive 3,", "3", -9.5))]
    )  # fmt: skip
    assert [w.word for w in out] == ["Hive", "8,", "six", "frames"]
    assert (out[0].start, out[1].end) == (0, 1.8)
    assert doubts == []


def test_a_small_lead_is_a_doubt_with_its_readings() -> None:
    words = heard("Hive 15. Six")
    _, doubts = relabel(words, [choice(words, ("Hive 15.", "15", -3.0), ("Hive 50.", "50", -3.5))])
    assert len(doubts) == 1
    assert doubts[0].kind == "label"
    assert doubts[0].heard == "Hive 15."
    assert [r.text for r in doubts[0].readings] == ["15", "50"]
    assert (doubts[0].start, doubts[0].end) == (0, 1.8)


@pytest.mark.parametrize(("score", "lead", "doubts"), [(-9.0, 1.0, 1), (-3.5, 20.0, 0)])
def test_the_lead_with_the_second_model_decides_what_is_a_doubt(
    score: float, lead: float, doubts: int
) -> None:
    words = heard("Hive 15. Six")
    one = choice(words, ("Hive 15.", "15", -3.0), ("Hive 50.", "50", score))
    assert len(relabel(words, [replace(one, lead=lead)])[1]) == doubts


class Hears:
    """A judge that finds 15 a little likelier than any other label."""

    lead = 0

    def rank(self, after: int, texts: list[str]) -> list[float]:
        return [-3.0 if "15" in text else -4.0 for text in texts]

    def weigh(self, after: int, texts: list[str], rest: str) -> list[float]:
        return self.rank(after, texts)


def with_second(text: str, theirs: str, **chances: float) -> Choice:
    known = {name.strip("_"): chance for name, chance in chances.items()}
    said = tuple(theirs.split())
    opinion = Opinion(Decoded(theirs, (), 0.0, -0.2), said, (known,) * len(said))
    vocabulary = replace(YARD, labels=("15", "16", "6", "A6"))
    laid = beside(heard(text), opinion)
    (found,) = choose(heard(text), vocabulary, Hears(), laid)  # type: ignore[arg-type]
    return found


@pytest.mark.parametrize(
    ("theirs", "lead"), [("Hive 15. Six", 2.0), ("Six", None), ("Hive is 15. Six", None)]
)
def test_the_second_model_is_asked_right_after_a_cue(theirs: str, lead: float | None) -> None:
    assert with_second("Hive 15. Six", theirs, _15=-1.0, _16=-2.0, _6=-9.0, A=-9.0).lead == lead


def test_the_label_that_both_models_together_find_likelier_is_the_best() -> None:
    found = with_second("Hive 15. Six", "Hive 16. Six", _15=-3.0, _16=-1.0, _6=-9.0, A=-9.0)
    assert [c.label for c in found.candidates if c.label][:2] == ["16", "15"]
    assert (found.lead, found.theirs, found.rather) == (1.0, "16", 2.0)


@pytest.mark.parametrize(("a", "_6", "lead"), [(-9.0, 0.0, 5.0), (0.0, -9.0, 9.0)])
def test_a_label_that_may_have_lost_its_start_needs_a_longer_lead(
    a: float, _6: float, lead: float
) -> None:
    found = with_second("Hive 6. Six", "Hive 6. Six", _15=-30.0, _16=-30.0, _6=_6, A=a)
    assert found.lead == lead


def test_words_give_way_to_a_label_that_the_second_model_heard() -> None:
    words = heard("hive at one. The")
    one = replace(
        choice(words, ("hive at one.", None, 0.0), ("hive A1.", "A1", -2.0), ("hive 1.", "1", -9.0)),
        last=3,
    )  # fmt: skip
    assert relabel(words, [one])[0] == words
    far = replace(one, candidates=(*one.candidates[:1], Candidate("hive A1.", "A1", -9.0)))
    assert relabel(words, [replace(far, theirs="A1")])[0] == words
    assert relabel(words, [replace(far, theirs="A1", rather=6.0)])[0] != words
    out, doubts = relabel(words, [replace(one, theirs="A1")])
    assert [w.word for w in out] == ["hive", "A1.", "The"]
    assert len(doubts) == 1


@pytest.mark.parametrize(
    ("labels", "now"), [(("1", "8", "A1"), "Hive A1. The"), (("1", "8", "A2"), "Hive at one. The")]
)
def test_a_word_is_taken_for_the_letter_of_a_label_of_the_register(
    labels: tuple[str, ...], now: str
) -> None:
    class Wordy(Hears):
        """A judge that finds words as they are likelier than any label."""

        def rank(self, after: int, texts: list[str]) -> list[float]:
            return [-1.0 if "at one" in text else -9.0 for text in texts]

    words = heard("Hive at one. The")
    choices = choose(words, replace(YARD, labels=labels), Wordy())  # type: ignore[arg-type]
    out, doubts = relabel(words, choices)
    assert " ".join(word.word for word in out) == now
    assert len(doubts) == 1  # it is a guess, and asks


def test_a_word_that_sounds_like_a_number_is_no_letter() -> None:
    (found,) = choose(heard("Hive ate one frame"), replace(YARD, labels=("1", "8", "A1")), Hears())  # type: ignore[arg-type]
    assert found.said is None
    assert not found.spelt


def test_the_same_number_after_a_misheard_cue_is_that_label_without_a_doubt() -> None:
    words = heard("high 31. The brood")
    one = choice(words, ("high 31.", None, 8.5), ("hive 31.", "31", 0.2), ("hive 34.", "34", -7.6))
    out, doubts = relabel(words, [replace(one, said="31")])
    assert [w.word for w in out] == ["hive", "31.", "The", "brood"]
    assert doubts == []
    out, doubts = relabel(words, [one])
    assert out == words


def test_a_name_without_its_label_is_a_doubt() -> None:
    words = heard("hive in the wash")
    one = choice(words, ("hive in", None, 3.1), ("hive 10", "10", -20.8))
    assert relabel(words, [one])[1] == []
    out, (doubt,) = relabel(words, [replace(one, expected=True)])
    assert out == words
    assert [r.text for r in doubt.readings] == ["hive in", "10"]


@pytest.mark.parametrize(
    ("text", "expected"),
    [("what was hive in", True), ("hive in", True), ("from the hive in", False), ("a hive, in", False)],
)  # fmt: skip
def test_a_cue_without_an_article_needs_a_label(text: str, *, expected: bool) -> None:
    words = heard(text)
    at = next(i for i, w in enumerate(words) if w.word.startswith("hive"))
    assert names_itself(words, at) is expected


def test_better_words_stay() -> None:
    words = heard("Hive tools are here")
    out, doubts = relabel(
        words, [choice(words, ("Hive tools", None, -3.0), ("Hive 2", "2", -15.0))]
    )
    assert out == words
    assert doubts == []


def spoken_number(names: list[str]) -> np.ndarray:
    """Human speech: the telephone prompts' single numbers, one after another."""
    quiet = np.zeros(int(0.12 * RATE), np.float32)
    clips = [load(ASTERISK / "digits" / f"{n}.g722") for n in names]
    return np.concatenate([x for clip in clips for x in (quiet, clip)] + [quiet])


@pytest.mark.parametrize("number", [3, 5, 8, 9, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 30, 40])
def test_a_humans_number_is_found_in_the_register(ctranslate2: Engine, number: int) -> None:
    """The cue is written, the number is only heard: which of 48 labels was it?

    Cards of the right label, whatever beam search wrote in its place.
    """
    sound = spoken_number(["1", "2", str(number)])
    vocabulary = Vocabulary(labels=REGISTER, cues=("two",), cue="two")
    encoded = ctranslate2.encode(sound)
    words = [Timed("one", 0, 0.5, 1, tuple(ctranslate2.tokens("one")))]
    words += [Timed("two", 0.5, 1, 1, tuple(ctranslate2.tokens("two")))]
    words += [Timed("4", 1, 1.5, 1, tuple(ctranslate2.tokens("4")))]
    judge = Judges(ctranslate2, "").judge(encoded, words)
    (found,) = choose(words, vocabulary, judge)
    best = next(c for c in found.candidates if c.label is not None)
    assert best.label == str(number)


def test_the_data_file_is_whole() -> None:
    raw = trade_file("speech")
    assert set(raw["common"]) <= {w for many in raw["misheard"].values() for w in many}
    assert all(re.fullmatch("[a-z']+", w) for many in raw["misheard"].values() for w in many)
    assert raw["cue"] in raw["cues"]
