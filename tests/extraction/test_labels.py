"""Hive labels as spoken, against the register."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.extraction.document import read_document, spacy_without_torch
from fieldvoice.extraction.hives import resolve
from fieldvoice.extraction.labels import Mention, find_labels
from fieldvoice.extraction.respell import respell
from fieldvoice.types import Register

NUMBERS = Register(tuple(str(n) for n in range(1, 21)))
LETTERS = Register(("A", "B", "C"))
PAIRS = Register(("A1", "A2", "A3", "B1", "B10"))
MIXED = Register(("1", "2", "nuc 1", "nuc 2", "blue", "big gray"), {"the long one": "2"})


def mentions(text: str, register: Register) -> tuple[Mention, ...]:
    doc = spacy_without_torch().blank("en").make_doc(text)
    return find_labels(respell(read_document(doc)), register)


def labels(text: str, register: Register) -> list[tuple[str, ...]]:
    return [m.labels for m in mentions(text, register)]


@pytest.mark.parametrize(
    ("text", "register", "expected"),
    [
        ("Hive seven. Calm.", NUMBERS, [("7",)]),
        ("hive 12's lid", NUMBERS, [("12",)]),
        ("Number twenty, heavy.", NUMBERS, [("20",)]),
        ("Hive seven teen is next.", NUMBERS, [("17",)]),
        ("hives four through six got a super", NUMBERS, [("4", "5", "6")]),
        ("four, five and six are done", NUMBERS, [("4", "5", "6")]),
        ("11 and 12, both light", NUMBERS, [("11", "12"), ()]),
        ("Hive ate is hot", NUMBERS, [("8",)]),
        ("high 14 is strong", NUMBERS, [("14",)]),
        ("Ate I'll close at dark.", NUMBERS, [("8",)]),
        ("that one is fine", NUMBERS, []),
        ("Hive B. No queen.", LETTERS, [("B",)]),
        ("A is weak, C is strong", LETTERS, [("A",), ("C",)]),
        ("a patch of brood", LETTERS, []),
        ("A three and B ten", PAIRS, [("A3", "B10")]),
        ("B10 and A2", PAIRS, [("B10", "A2")]),
        ("Nuke two. Knuck one.", MIXED, [("nuc 2",), ("nuc 1",)]),
        ("the blue hive, then big grey", MIXED, [("blue",), ("big gray",)]),
        ("the long one needs a lid", MIXED, [("2",)]),
    ],
)
def test_said_labels_are_found(
    text: str, register: Register, expected: list[tuple[str, ...]]
) -> None:
    assert labels(text, register) == expected


def test_a_label_that_is_not_in_the_register_is_unknown() -> None:
    (found,) = mentions("Hive forty is new.", NUMBERS)
    assert found.labels == ("40",)
    assert found.unknown


def test_a_misheard_label_says_so() -> None:
    (found,) = mentions("high 9 is heavy", NUMBERS)
    assert found.respelled
    (found,) = mentions("hive 9 is heavy", NUMBERS)
    assert not found.respelled


@pytest.mark.parametrize(
    ("how", "named", "words", "expected"),
    [
        ("both", ["1", "4", "5"], ["both"], ("4", "5")),
        ("all", ["1"], ["all", "of", "them"], ("all",)),
        ("rest", ["1", "2", "3"], ["the", "rest"], ("4", "5")),
        ("next", ["2"], ["the", "next", "one"], ("3",)),
        ("next", ["5"], ["the", "next", "one"], ()),
        ("counted", ["1", "2", "3"], ["all", "three"], ("1", "2", "3")),
        ("counted", [], ["all", "five"], ("all",)),
    ],
)
def test_group_words_mean_the_hives_said_before(
    how: str, named: list[str], words: list[str], expected: tuple[str, ...]
) -> None:
    register = Register(("1", "2", "3", "4", "5"))
    assert resolve(Mention(0, 1, (), how), named, words, register) == expected


@given(st.text(max_size=200), st.lists(st.text(min_size=1, max_size=6), max_size=6))
def test_any_text_and_register_are_read(text: str, register: list[str]) -> None:
    found = mentions(text, Register(tuple(register)))
    assert all(m.first < m.last for m in found)
    assert all(a.last <= b.first for a, b in itertools.pairwise(found))


def test_the_only_nuc_needs_no_number_but_another_number_is_another_nuc() -> None:
    register = Register(("1", "2", "nuc 1"))
    assert labels("the wee nuc is fine", register) == [("nuc 1",)]
    (found,) = mentions("Nuc two gets half a litre", register)
    assert found.labels == ("nuc 2",)
    assert found.unknown


def test_a_label_of_the_same_make_is_a_new_hive() -> None:
    (found,) = mentions("B11 I haven't had time for", PAIRS)
    assert found.labels == ("B11",)
    assert found.unknown
