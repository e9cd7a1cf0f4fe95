"""Fields as typed by a keeper; what is shown can be typed again."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.errors import InputError
from fieldvoice.review.fields import FIELDS, field_text, set_field
from fieldvoice.types import ROLES, Entry, Value, When

DAY = date(2026, 5, 3)
ENTRY = Entry("7", "feed", "give", "syrup", "done", quote="fed her")


def typed(name: str, text: str) -> object:
    return getattr(set_field(ENTRY, name, text, DAY), name)


@pytest.mark.parametrize(
    ("text", "role", "low", "high", "unit", "approx"),
    [
        ("amount 2 quart", "amount", 2, 2, "quart", False),
        ("count 4 to 6 frame", "count", 4, 6, "frame", False),
        ("count 4-6 frame", "count", 4, 6, "frame", False),
        ("count about 4 frame", "count", 4, 4, "frame", True),
        ("ratio 2:1", "ratio", 2, 2, "sugar:water", False),
        ("ratio 1:2", "ratio", 0.5, 0.5, "sugar:water", False),
        ("ratio 3:2 to 2:1", "ratio", 1.5, 2, "sugar:water", False),
        ("amount 1 1/2 gallon", "amount", 1.5, 1.5, "gallon", False),
        ("sample 1/2 cup", "sample", 0.5, 0.5, "cup", False),
        ("temperature -3 degC", "temperature", -3, -3, "degC", False),
        ("share 0.5 1", "share", 0.5, 0.5, "1", False),
        ("moisture 17.5 %", "moisture", 17.5, 17.5, "percent", False),
        ("count 3 queen cell", "count", 3, 3, "queen cell", False),
        ("size 10", "size", 10, 10, None, False),
    ],
)
def test_values(
    text: str, role: str, low: float, high: float, unit: str | None, approx: bool
) -> None:
    assert typed("values", text) == (Value(role, low, high, unit, approx, text),)


def test_several_values_and_none() -> None:
    assert [v.role for v in typed("values", "amount 2 quart; ratio 2:1")] == ["amount", "ratio"]
    assert typed("values", "-") == ()


@pytest.mark.parametrize(
    "text",
    ["two quarts", "amount", "amount two quart", "volume 2 cup", "count 6 to 4 frame", "ratio 2:0"],
)
def test_values_that_are_none(text: str) -> None:
    with pytest.raises(InputError):
        typed("values", text)


@pytest.mark.parametrize(
    ("text", "when"),
    [
        ("2026-05-09", When(date(2026, 5, 9), date(2026, 5, 9))),
        ("2026-05-04 to 2026-05-10", When(date(2026, 5, 4), date(2026, 5, 10))),
        ("by 2026-05-10", When(DAY, date(2026, 5, 10))),
        ("from 2026-05-10", When(date(2026, 5, 10), None)),
        ("-", None),
    ],
)
def test_days(text: str, when: When | None) -> None:
    assert typed("when", text) == when


@pytest.mark.parametrize("text", ["soon", "2026-02-30", "2026-05-10 to 2026-05-04", "by", "from x"])
def test_days_that_are_none(text: str) -> None:
    with pytest.raises(InputError):
        typed("when", text)


def test_plain_fields() -> None:
    assert typed("hive", " hive  9 ") == "9"
    assert typed("hive", "the blue one") == "blue one"
    assert typed("hive", "ALL") == "all"
    assert typed("hive", "-") is None
    assert typed("item", "Pollen  Patty") == "pollen patty"
    assert typed("details", "place=front; Reason=wet floor") == {
        "place": "front", "reason": "wet floor",
    }  # fmt: skip
    assert typed("details", "-") == {}
    assert typed("quote", "-") == ""
    with pytest.raises(InputError, match="no detail"):
        typed("details", "front")
    with pytest.raises(InputError, match="There is no field 'colour'; there are: hive, kind"):
        typed("colour", "blue")


numbers = st.fractions(-999, 999, max_denominator=1000).map(lambda f: round(float(Fraction(f)), 4))


@given(
    st.sampled_from(ROLES),
    numbers,
    numbers,
    st.sampled_from(["quart", "queen cell", "degF", "1", "sugar:water"]),
    st.booleans(),
)
def test_what_is_shown_can_be_typed_again(
    role: str, one: float, other: float, unit: str, approx: bool
) -> None:
    low, high = sorted((one, other))
    shown = field_text(
        Entry("7", "note", "see", "x", "seen", (Value(role, low, high, unit, approx),)), "values"
    )
    (back,) = set_field(ENTRY, "values", shown, DAY).values
    assert (back.role, back.unit, back.approx) == (role, unit, approx)
    assert (back.lo, back.hi) == pytest.approx((low, high), rel=1e-9)


@given(st.sampled_from(FIELDS), st.text())
def test_anything_typed_is_read_or_refused(name: str, text: str) -> None:
    try:
        set_field(ENTRY, name, text, DAY)
    except InputError as error:
        assert str(error)
