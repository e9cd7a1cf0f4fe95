"""Units, ratios, ranges and shapes: public case sets, laws, and published definitions."""

from __future__ import annotations

import json
import math
import random
import time
import tomllib
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from fieldvoice.errors import InputError, SettingsError
from fieldvoice.extraction.quantities import (
    VALUE_SHAPES,
    Quantity,
    build_vocabulary,
    convert,
    find_quantities,
    vocabulary,
)
from fieldvoice.trade.load import trade_file
from tests.quantities.score import (
    CASES,
    Row,
    date_items,
    load,
    own_phrases,
    score_quantities,
)

NARRATIONS = Path(__file__).parent.parent / "narrations"


@pytest.fixture(scope="module")
def rows() -> dict[str, Row]:
    return {row.name: row for row in score_quantities()}


def values(text: str) -> list[Quantity]:
    return [q for q in find_quantities(text) if q.shape in VALUE_SHAPES]


# --- the case sets ----------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "floor", "items"),
    [
        ("fieldphrases", 0.95, 150),
        # Recognizers' and quantulum3's own cases, of the units in units.toml (`kept`).
        ("ms_temperature", 0.95, 32),
        ("ms_age", 0.95, 17),
        ("ms_dimension", 0.75, 67),
        ("q3_quantities", 0.75, 107),
    ],
)
def test_public_sets_reach_their_floor(
    rows: dict[str, Row], name: str, floor: float, items: int
) -> None:
    assert rows[name].items == items, "the rule for what is kept has changed"
    assert rows[name].share >= floor


def test_field_phrases_give_next_to_nothing_on_distractors(rows: dict[str, Row]) -> None:
    assert rows["fieldphrases"].stray <= 2


def test_own_phrases_of_other_wording() -> None:
    assert own_phrases().share >= 0.95


def test_the_case_files_keep_their_licences() -> None:
    for name in ("Recognizers-Text", "quantulum3"):
        assert "MIT" in (CASES / "licences" / f"{name}.MIT.txt").read_text(encoding="utf-8")


def test_no_ratio_or_range_is_taken_for_a_date_or_a_time() -> None:
    from datetime import date

    for case in load("fieldphrases"):
        for gold in case["gold"]:
            if gold["type"] not in ("ratio", "range"):
                continue
            said = gold["span"]
            clocks = [q for q in find_quantities(said) if q.shape in ("clock", "year")]
            assert not clocks, said
            assert not date_items(said, date(2026, 4, 18)), said


@given(st.integers(1, 12), st.integers(1, 12), st.sampled_from(["to", "or", "-", ":"]))
def test_n_to_m_is_never_a_time(first: int, second: int, joint: str) -> None:
    from datetime import date

    for one, two in ((str(first), str(second)), (num2words(first), num2words(second))):
        text = f"gave them {one} {joint} {two}" if joint != ":" else f"mixed {one}:{two}"
        if joint == ":" and len(two) == 2:
            continue  # 1:10 is written as a time is
        assert all(q.shape not in ("clock", "year") for q in find_quantities(text)), text
        assert not date_items(text, date(2026, 4, 18)), text


# --- what is printed is read back -------------------------------------------

UNITS = {
    row["name"]: (row["said"][0], row["said"][1])
    for row in trade_file("units")["unit"]
    if row["name"] in ("gallon", "quart", "pint", "pound", "ounce", "gram", "kilogram", "litre",
                       "millilitre", "inch", "mile", "hour", "day", "week", "month")
}  # fmt: skip
NUMBERS = st.integers(2, 120)


def unit_word(unit: str, number: float) -> str:
    return UNITS[unit][0 if number == 1 else 1]


@given(NUMBERS, st.sampled_from(sorted(UNITS)), st.booleans())
def test_measures_are_read_back(number: int, unit: str, digits: bool) -> None:
    said = str(number) if digits else num2words(number).replace("-", " ")
    (found,) = values(f"gave it {said} {unit_word(unit, number)} today")
    assert (found.lo, found.hi, found.unit, found.shape) == (number, number, unit, "measure")


@given(st.integers(1, 40), st.sampled_from(sorted(UNITS)))
def test_halves_on_either_side_of_the_unit_are_read_back(number: int, unit: str) -> None:
    words = num2words(number).replace("-", " ")
    for text in (
        f"{words} and a half {UNITS[unit][1]}",
        f"{'a' if number == 1 else words} {unit_word(unit, number)} and a half",
    ):
        (found,) = values(text)
        assert (found.lo, found.unit) == (number + 0.5, unit), text


@given(st.integers(1, 40), st.integers(1, 20), st.sampled_from(sorted(UNITS)))
def test_ranges_are_read_back(low: int, more: int, unit: str) -> None:
    one, two = num2words(low).replace("-", " "), num2words(low + more).replace("-", " ")
    for text in (
        f"{one} to {two} {UNITS[unit][1]}",
        f"between {one} and {two} {UNITS[unit][1]}",
        f"{low}-{low + more} {UNITS[unit][1]}",
        f"{low} to {low + more} {UNITS[unit][1]}",
    ):
        (found,) = values(text)
        assert (found.lo, found.hi, found.unit) == (low, low + more, unit), text


@given(st.sampled_from([1, 1.25, 1.5, 2, 3]), st.sampled_from(["to", ":", "-to-"]))
def test_ratios_are_read_back(first: float, joint: str) -> None:
    spoken = {1: "one", 1.25: "one and a quarter", 1.5: "one and a half", 2: "two", 3: "three"}
    texts = [f"{first:g}{joint if joint != 'to' else ' to '}1", f"{spoken[first]} to one"]
    for said in texts:
        (found,) = values(f"gave it {said} syrup")
        assert (found.lo, found.unit, found.shape) == (first, "sugar:water", "ratio"), said


@given(st.integers(1, 9), st.integers(2, 9))
def test_parts_are_read_back(sugar: int, water: int) -> None:
    text = f"{num2words(sugar)} parts sugar to {num2words(water)} parts water"
    (found,) = values(text)
    assert found.lo == pytest.approx(sugar / water)
    assert found.said == text


@given(st.integers(3, 12))
def test_counting_aloud_gives_the_last_number(last: int) -> None:
    words = [num2words(n) for n in range(1, last + 1)]
    (found,) = values("Cells. " + ", ".join(words[:-1]) + "... " + words[-1] + ".")
    assert (found.lo, found.shape) == (last, "count_aloud")
    assert found.said.startswith("one, two")


# --- laws -------------------------------------------------------------------

WORDS = sorted(
    {w for phrases in vocabulary().names.values() for said, _, _ in phrases for w in said}
    | {w for s in vocabulary().sets.values() for w in " ".join(s).split()}
    | set(
        [
            "one",
            "two",
            "three",
            "ten",
            "twenty",
            "hundred",
            "thousand",
            "half",
            "third",
            "quarter",
            "eighth",
            "point",
            "and",
            "a",
            "an",
            "of",
            "to",
            "or",
            "-",
            ":",
            ",",
            ".",
            "...",
            "1",
            "2",
            "30",
            "1/2",
            "2.5",
            "½",
            "first",
            "21st",
            "may",
            "between",
            "from",
            "up",
            "minus",
            "too",
            "won",
            "ate",
            "for",
            "mid",
            "fifties",
            "past",
            "o'clock",
            "am",
            "pm",
        ]
    )
)


@given(st.lists(st.sampled_from(WORDS), max_size=14).map(" ".join))
def test_any_row_of_number_words_keeps_the_laws(text: str) -> None:
    found = find_quantities(text)
    for q in found:
        assert text[q.start : q.end] == q.said
        assert math.isfinite(q.lo) and math.isfinite(q.hi) and q.lo <= q.hi
    assert all(a.end <= b.start for a, b in pairwise(found))


@given(st.text(alphabet="0123456789.,:/-°% abcto'½", max_size=60))
def test_any_row_of_digits_and_signs_keeps_the_laws(text: str) -> None:
    for q in find_quantities(text):
        assert text[q.start : q.end] == q.said
        assert q.lo <= q.hi


# --- shapes and context -----------------------------------------------------


@pytest.mark.parametrize(
    ("text", "shape"),
    [
        ("at half past six", "clock"), ("back at 11:30", "clock"), ("two o'clock", "clock"),
        ("at ten thirty", "clock"), ("at 6 pm", "clock"), ("in 2024", "year"),
        ("since twenty twenty three", "year"), ("hive twelve", "label"), ("frame 2", "label"), ("hive 12C", "label"),
        ("the third frame", "ordinal"), ("a five-gallon bucket", "container"),
        ("in a quart jar", "container"), ("two thirds full", "share"), ("about half", "share"),
    ],
)  # fmt: skip
def test_shapes(text: str, shape: str) -> None:
    assert [q.shape for q in find_quantities(text)] == [shape]


@pytest.mark.parametrize(
    "text",
    [
        "a second look", "wait a minute", "that one is fine", "no one knows", "one of them",
        "they may go", "for the bees", "they ate it", "too bad", "I won", "in the box",
        "a few bees", "several cells", "quarter turn on the valve", "none of it",
    ],
)  # fmt: skip
def test_words_that_are_no_number(text: str) -> None:
    assert not values(text)


@pytest.mark.parametrize(
    "text",
    [
        "about six", "six or so", "maybe six", "call it six", "six-ish", "six, roughly",
        "sixty odd", "I'd say six", "six frames, give or take", "a couple",
    ],
)  # fmt: skip
def test_words_that_make_a_number_inexact(text: str) -> None:
    (found,) = values(text)
    assert found.approx


@pytest.mark.parametrize(
    ("text", "bound"),
    [
        ("at least four frames", "at least"), ("no more than ten minutes", "up to"),
        ("more than half a gallon", "at least"), ("under fifty degrees", "up to"),
        ("sixty pounds or more", "at least"), ("six frames", None),
        ("a hair over 2.5 gallons", None),
    ],
)  # fmt: skip
def test_bounds(text: str, bound: str | None) -> None:
    (found,) = values(text)
    assert found.bound == bound


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("it's eighty ate degrees", 88, "degree"), ("wash was too mites", 2, None),
        ("a leader of won to won", 1, "sugar:water"), ("ten litres of too to one", 2, "sugar:water"),
        ("down to too inches", 2, "inch"),
    ],
)  # fmt: skip
def test_words_that_sound_like_a_number_are_marked(
    text: str, value: float, unit: str | None
) -> None:
    (found,) = [q for q in values(text) if q.respelled]
    assert (found.lo, found.unit) == (value, unit)


@pytest.mark.parametrize("text", ["14 in 24 hours", "84 in the shade", "9 in a row"])
def test_in_is_no_inch_before_a_word(text: str) -> None:
    assert all(q.unit != "inch" for q in find_quantities(text))


# --- the data files ---------------------------------------------------------


def test_a_keeper_can_add_a_unit() -> None:
    units = tomllib.loads(
        '[[unit]]\nname = "scoop"\ndimension = "volume"\nsaid = ["scoop", "scoops"]'
    )
    words = build_vocabulary(units, trade_file("numbers"))
    (found,) = find_quantities("two scoops of sugar", words)
    assert (found.lo, found.unit) == (2, "scoop")


def test_one_name_for_two_units_is_refused() -> None:
    unit = {"name": "cup", "dimension": "volume", "said": ["cup"]}
    with pytest.raises(SettingsError, match='"cup" stands under cup and under mug'):
        build_vocabulary({"unit": [unit, unit | {"name": "mug"}]}, trade_file("numbers"))


# --- conversion, against published definitions ------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "to", "imperial", "wanted"),
    [
        # NIST Special Publication 811 (2008), appendix B.8: gallon (U.S.) 3.785 412 E-03 m3,
        # from 231 in3 exactly; NIST Handbook 44, appendix C: 231 cubic inches.
        (1, "gallon", "litre", False, 3.785411784),
        (1, "quart", "litre", False, 0.946352946),
        (1, "cup", "millilitre", False, 236.5882365),
        (1, "gallon", "quart", False, 4),
        # International yard and pound agreement of 1959 (NIST SP 811, appendix B.6).
        (1, "pound", "kilogram", False, 0.45359237),
        (1, "ounce", "gram", False, 28.349523125),
        (1, "inch", "millimetre", False, 25.4),
        (1, "mile", "kilometre", False, 1.609344),
        (1, "foot", "inch", False, 12),
        # UK Units of Measurement Regulations 1995: one gallon is 4.546 09 dm3.
        (1, "gallon", "litre", True, 4.54609),
        (1, "pint", "millilitre", True, 568.26125),
        # BIPM, The International System of Units, 9th edition: t/C = T/K - 273.15; 1 L = 1 dm3.
        (212, "degF", "degC", False, 100),
        (32, "degF", "degC", False, 0),
        (1, "litre", "millilitre", False, 1000),
        (1, "tonne", "kilogram", False, 1000),
        (50, "percent", "1", False, 0.5),
    ],
)  # fmt: skip
def test_conversion_agrees_with_the_definitions(
    value: float, unit: str, to: str, imperial: bool, wanted: float
) -> None:
    assert convert(value, unit, to, imperial=imperial) == pytest.approx(wanted, rel=1e-12, abs=1e-9)


def test_a_part_is_what_pint_says_it_is() -> None:
    for unit in vocabulary().units.values():
        for part, many in unit.parts.items():
            assert convert(1, unit.name, part) == pytest.approx(many)


def test_every_unit_but_the_bare_degree_can_be_converted() -> None:
    for name in vocabulary().units:
        if name != "degree":
            assert convert(7, name, name) == pytest.approx(7)


def test_conversion_refuses_with_a_reason() -> None:
    with pytest.raises(InputError, match="different things"):
        convert(1, "gallon", "pound")
    with pytest.raises(InputError, match="not a unit"):
        convert(1, "smidgen", "pound")
    with pytest.raises(InputError, match="without a scale"):
        convert(1, "degree", "degC")


# --- speed ------------------------------------------------------------------


def test_three_thousand_words_a_second() -> None:
    texts = [
        json.loads(path.read_text(encoding="utf-8"))["text"]
        for path in sorted(NARRATIONS.glob("*.json"))
    ]
    words = sum(len(text.split()) for text in texts)
    start = time.process_time()
    for text in texts:
        find_quantities(text)
    assert words / (time.process_time() - start) > 3000


def test_long_rows_of_numbers_take_time_in_proportion() -> None:
    rng = random.Random(1)
    row = " ".join(rng.choice(WORDS) for _ in range(20_000))
    start = time.process_time()
    find_quantities(row)
    assert time.process_time() - start < 10
