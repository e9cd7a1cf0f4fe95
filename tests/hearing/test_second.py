from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.second import any_matters, disagreements, matters, names_another
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Doubt, Reading

YARD = vocabulary_from(trade_file("speech"), ["7", "15"])


def heard(text: str) -> list[Timed]:
    return [Timed(w, i, i + 0.8, 0.9, (i,)) for i, w in enumerate(text.split())]


@pytest.mark.parametrize(
    ("ours", "theirs", "doubts"),
    [
        ("I gave 15 pounds.", "I gave 50 pounds", [("number", "15", "50")]),
        ("two to one syrup", "2 to 1 syrup.", []),
        ("a 2:1 syrup", "a two to one syrup", []),
        ("twenty-five frames", "25 frame", []),
        ("Hive A3 has eggs", "hive A 3 has eggs", []),
        ("four quarts of it", "four cords of it", [("unit", "quarts", "cords")]),
        ("there is no brood", "there is new brood", [("word", "no", "new")]),
        ("the queen is nice", "the green is nice", []),
        ("gave them feed", "gave 10 feed", [("number", "them", "10")]),
        ("gave feed today", "gave 10 feed today", [("number", "gave feed", "10")]),
        ("12 frames", "", [("number", "12 frames", "")]),
    ],
)
def test_what_two_models_disagree_on(
    ours: str, theirs: str, doubts: list[tuple[str, str, str]]
) -> None:
    found = disagreements(heard(ours), theirs, YARD)
    assert [(d.kind, d.heard, d.readings[1].text) for d in found] == doubts


def test_only_stretches_that_matter_are_heard_twice() -> None:
    assert any_matters(["I", "gave", "it", "seven"], YARD)
    assert any_matters(["she", "is", "not", "there"], YARD)
    assert not any_matters(["a", "nice", "warm", "morning"], YARD)
    assert matters("Quarts,", YARD) == "unit"


@pytest.mark.parametrize(
    ("ours", "theirs", "another"),
    [("Hive 7.", "hive fifteen", True), ("Hive 7.", "5, the", False), ("Hive 7", "seven", False)],
)
def test_a_label_that_was_weighed_is_doubted_only_for_another_label(
    ours: str, theirs: str, another: bool
) -> None:
    doubt = Doubt(0, 1, "number", ours, (Reading(ours, 0.9), Reading(theirs, -0.1)))
    assert names_another(doubt, YARD) == another


@given(st.text("ab 17no:.", max_size=40), st.text("ab 17no:.", max_size=40))
def test_doubts_lie_inside_the_words(ours: str, theirs: str) -> None:
    words = heard(ours)
    for doubt in disagreements(words, theirs, YARD):
        assert 0 <= doubt.start < doubt.end <= words[-1].end
        assert doubt.heard and doubt.heard in " ".join(ours.split())


@given(st.text("ab 17no:.", max_size=40))
def test_a_text_agrees_with_itself(text: str) -> None:
    assert disagreements(heard(text), text, YARD) == []
