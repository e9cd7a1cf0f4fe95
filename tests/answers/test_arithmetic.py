"""Arithmetic of the answers against reference libraries, printed tables and laws."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fieldvoice.answers import calendars, comb, sampling, syrup
from fieldvoice.errors import InputError
from fieldvoice.trade.load import trade_file


def test_the_quartic_follows_the_density_table_as_close_as_it_says() -> None:
    table = trade_file("syrup")
    for percent, printed in table["density"].items():
        assert syrup.density(float(percent)) == pytest.approx(
            printed,
            abs=table["quartic"]["accuracy"] + 0.05,  # the table prints one decimal
        )


@given(st.integers(0, 60), st.integers(60, 600))
def test_intervals_are_those_of_scipy(mites: int, bees: int) -> None:
    test = stats.binomtest(mites, bees)
    for own, method in ((sampling.wilson, "wilson"), (sampling.exact, "exact")):
        theirs = test.proportion_ci(0.95, method)
        assert own(mites, bees) == pytest.approx((100 * theirs.low, 100 * theirs.high), abs=1e-6)


@given(st.integers(0, 40), st.integers(100, 600), st.integers(0, 40), st.integers(100, 600))
def test_a_change_is_as_unlikely_as_scipy_says(a: int, n: int, b: int, m: int) -> None:
    theirs = 1.0 if a + b == 0 else stats.binomtest(a, a + b, n / (n + m)).pvalue
    assert sampling.chance_of_change((a, n), (b, m)) == pytest.approx(theirs, abs=1e-9)


def test_a_drop_and_its_interval() -> None:
    # 12 to 1 of 300 each is 92 %, the worked example of the trade notes
    fell, low, high = sampling.drop((12, 300), (1, 300)) or (0, 0, 0)
    assert round(fell) == 92
    theirs = stats.binomtest(1, 13).proportion_ci(0.95, "exact")
    assert low == pytest.approx(100 * (1 - theirs.high / (1 - theirs.high)))
    assert high == pytest.approx(100 * (1 - theirs.low / (1 - theirs.low)))
    assert sampling.drop((0, 300), (1, 300)) is None


@given(st.floats(0.1, 40), st.floats(5, 80))
def test_what_is_wanted_makes_what_is_wanted(litres: float, percent: float) -> None:
    mix = syrup.wanted(litres, percent)
    assert mix.litres == pytest.approx(litres)
    assert mix.percent == pytest.approx(percent)
    again = syrup.from_sugar(mix.sugar_kg, percent)
    assert again.water_kg == pytest.approx(mix.water_kg)


def test_saturation_between_printed_points() -> None:
    assert syrup.crystals_below(50) is None
    # supersaturated below about 16 to 17 C: computed from Mohos 2010, appendix 2
    assert 16 <= (syrup.crystals_below(200 / 3) or 0) <= 19
    assert syrup.crystals_below(68.7) == pytest.approx(30)


def test_no_syrup_is_that_strong() -> None:
    with pytest.raises(InputError, match="no syrup"):
        syrup.density(90)


@given(st.dates(date(2020, 1, 1), date(2040, 1, 1)))
def test_a_colour_stands_for_its_years(day: date) -> None:
    colour = calendars.queen_colour(day.year)
    first, second = calendars.years_of(colour, day)
    assert (first, second) == (day.year, day.year - 5)


def test_windows_run_late_after_their_last_day() -> None:
    window = calendars.out_window(date(2026, 8, 10), (42, 56))
    assert window.late(date(2026, 10, 8)) == 3  # worked example of the trade notes
    assert window.late(date(2026, 10, 5)) == 0


def test_brood_days_add_up() -> None:
    for caste in ("worker", "queen", "drone"):
        egg, larva, capped, total = calendars.stage_days(caste)
        assert egg + larva + capped == pytest.approx(total, abs=0.5)
    assert [w.last for w in calendars.brood_calendar(date(2026, 5, 1))] == [
        date(2026, 5, 4), date(2026, 5, 10), date(2026, 5, 22),
    ]  # fmt: skip


def test_honey_outside_the_table_has_no_weight() -> None:
    assert comb.honey_density(17) == pytest.approx(1.423 * 0.9982)
    with pytest.raises(InputError, match="weigh it"):
        comb.honey_density(21)


def test_honey_frames_of_unknown_depth_span_all_depths() -> None:
    assert comb.honey_in((2, 2), "deep") == (12, 16)
    assert comb.honey_in((2, 2), None) == (5, 16)


def test_limits_of_moisture() -> None:
    assert comb.moisture_says(17.5).startswith("within 18.6 %")
    assert comb.moisture_says(19).startswith("over 18.6 %")
    assert "over 20 %" in comb.moisture_says(20.5)
