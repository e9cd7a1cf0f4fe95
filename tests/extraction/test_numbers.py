"""Numbers as spoken: what num2words prints is read back, and no text makes a reader fail."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from num2words import num2words

from fieldvoice.extraction.quantities import find_quantities
from fieldvoice.extraction.quantities.numbers import read_number
from fieldvoice.extraction.quantities.tokens import tokenize
from fieldvoice.number_words import DENOMINATORS

FRACTIONS = {
    "half": 1 / 2, "quarter": 1 / 4, "third": 1 / 3, "eighth": 1 / 8, "three quarters": 3 / 4,
    "two thirds": 2 / 3, "three eighths": 3 / 8, "five eighths": 5 / 8, "nine tenths": 9 / 10,
    "three sixteenths": 3 / 16,
}  # fmt: skip


def said(number: int | float | Decimal) -> str:
    """A number as num2words prints it."""
    return str(num2words(number))


def plain(words: str) -> str:
    """As a recogniser writes it: no hyphens, no "and", no commas."""
    return words.replace("-", " ").replace(" and ", " ").replace(",", "")


def value_of(words: str) -> float:
    """The one number that a text is, read to its last token."""
    tokens = tokenize(words)
    number = read_number(tokens, 0)
    assert number is not None, words
    assert number.end == len(tokens), words
    return number.value


@given(st.integers(0, 9_999_999))
def test_cardinals_are_read_back(number: int) -> None:
    words = said(number).replace(",", "")
    assert value_of(words) == number
    assert value_of(plain(words)) == number


@given(st.integers(-99, -1))
def test_signed_numbers_are_read_back(number: int) -> None:
    assert value_of(said(number)) == number


@given(st.integers(0, 999), st.integers(1, 99))
@example(1, 57)
def test_decimals_read_out_are_read_back(whole: int, hundredths: int) -> None:
    number = Decimal(100 * whole + hundredths) / 100  # a float would be said with all its nines
    assert value_of(said(number).replace(",", "")) == pytest.approx(float(number))
    assert value_of(f"{whole} point {plain(said(number)).split('point ')[1]}") == pytest.approx(
        float(number)
    )


@given(st.integers(11, 99).filter(lambda n: n % 10))
def test_hundreds_above_a_thousand_are_read_back(hundreds: int) -> None:
    assert value_of(plain(said(hundreds)) + " hundred") == hundreds * 100


@given(st.integers(1, 200), st.sampled_from(sorted(FRACTIONS)))
def test_mixed_numbers_are_read_back(whole: int, fraction: str) -> None:
    article = "" if " " in fraction else "a "
    wanted = whole + FRACTIONS[fraction]
    assert value_of(f"{plain(said(whole))} and {article}{fraction}") == pytest.approx(wanted)
    assert value_of(f"{whole} and {article}{fraction}") == pytest.approx(wanted)


@given(st.integers(1, 15), st.sampled_from([2, 3, 4, 5, 8, 10, 16]))
def test_written_fractions_are_read_back(top: int, below: int) -> None:
    assert value_of(f"{top}/{below}") == pytest.approx(top / below)
    if top < below:
        assert value_of(f"3 {top}/{below}") == pytest.approx(3 + top / below)


@given(st.integers(1, 31))
def test_ordinals_are_read_back(number: int) -> None:
    for words in (num2words(number, to="ordinal"), num2words(number, to="ordinal_num")):
        found = read_number(tokenize(words), 0)
        assert found is not None and found.kind == "ordinal" and found.value == number


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("a dozen", 12), ("half a dozen", 6), ("half dozen", 6), ("two dozen", 24),
        ("a couple", 2), ("couple hundred", 200), ("a hundred", 100), ("a thousand", 1000),
        ("point eight", 0.8), ("zero point oh five", 0.05), ("1,200", 1200), ("2½", 2.5),
        ("¾", 0.75), ("3 hundred and 21", 321), ("two and a half thousand", 2500),
        ("a million and a half", 1_500_000), ("a hundred and three quarters", 100.75),
        ("one-half", 0.5), ("a good three eighths", 0.375), ("minus four", -4),
    ],
)  # fmt: skip
def test_other_ways_to_say_a_number(words: str, value: float) -> None:
    assert value_of(words) == pytest.approx(value)


def test_a_denominator_is_never_nought() -> None:
    assert read_number(tokenize("1/0"), 0) is None
    assert min(DENOMINATORS.values()) == 2


@given(st.text(max_size=200))
def test_no_text_makes_the_reader_fail(text: str) -> None:
    tokens = tokenize(text)
    for at in range(len(tokens)):
        read_number(tokens, at)
    for found in find_quantities(text):
        assert text[found.start : found.end] == found.said
