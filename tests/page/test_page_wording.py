"""Why a row asks to be looked at, in words that a keeper can check by ear."""

from __future__ import annotations

from dataclasses import replace

import pytest
from page_tools import CELLS, SYRUP, heard

from fieldvoice.review.page.places import place_of
from fieldvoice.review.page.wording import became, reasons
from fieldvoice.types import ACTIONS, STATUSES, Because, Doubt, Entry, Reading

TRANSCRIPT = heard((SYRUP, CELLS), "so seven got two pounds")


def test_a_doubted_word_with_its_place() -> None:
    (told,) = reasons(CELLS, ["heard-unsurely"], TRANSCRIPT)
    assert told == 'a word was not heard surely: "sells" at 0:30'


def test_what_else_it_may_have_been() -> None:
    doubt = Doubt(30.5, 31.0, "word", "sells", (Reading("cells", -1.0), Reading("sells", -2.0)))
    (told,) = reasons(CELLS, ["heard-unsurely"], replace(TRANSCRIPT, doubts=(doubt,)))
    assert told.endswith('"sells" at 0:30 may be "cells"')


def test_said_two_ways_names_both_places() -> None:
    row = replace(SYRUP, details={"recap": "seven: two pounds"})
    (told,) = reasons(row, ["conflict"], TRANSCRIPT)
    assert told == 'it was said two ways: this at 0:12, "seven: two pounds" at 1:01'


def test_an_unsure_hive_says_what_it_was_read_from() -> None:
    row = replace(SYRUP, because=(Because("hive", "Hive 5", "named here"),))
    assert reasons(row, ["unsure-hive"], TRANSCRIPT) == ['the hive is not sure: 7, from "Hive 5"']


def test_place_of() -> None:
    place = place_of("Two quarts", TRANSCRIPT)
    assert place is not None
    assert 12.0 < place.start < place.end < 15.0
    assert place_of("two quarts", TRANSCRIPT, after=20.0) is None
    assert place_of("", TRANSCRIPT) is None
    assert place_of("never said", TRANSCRIPT) is None


@pytest.mark.parametrize("action", ACTIONS)
@pytest.mark.parametrize("status", STATUSES)
def test_every_row_can_be_said(action: str, status: str) -> None:
    told = became(Entry("7", "note", action, "thing", status))
    assert told
    assert "_" not in told
