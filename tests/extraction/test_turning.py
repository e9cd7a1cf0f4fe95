"""A planned day lies ahead, a past one behind."""

from datetime import date

import pytest

from fieldvoice.extraction.candidates import Day
from fieldvoice.extraction.turning import turned

TODAY = date(2026, 7, 8)  # a Wednesday


def day(first: str, last: str = "") -> Day:
    return Day(0, 1, date.fromisoformat(first), date.fromisoformat(last or first), "said")


@pytest.mark.parametrize(
    ("said", "status", "expected"),
    [
        (day("2026-07-06"), "planned", "2026-07-13"),  # "goes Monday"
        (day("2026-07-13"), "planned", "2026-07-13"),
        (day("2026-07-12"), "past", "2026-07-05"),  # "did it Sunday"
        (day("2025-09-10"), "planned", "2026-09-10"),  # "till the tenth of September"
        (day("2025-09-10"), "skipped", "2026-09-10"),
        (day("2026-10-01", "2026-10-31"), "past", "2025-10-01"),  # "in October"
        (day("2026-07-06"), "skipped", "2026-07-06"),
        (day("2026-06-20"), "planned", "2026-06-20"),  # neither a week nor a year is meant
        (day("2026-07-06"), "seen", "2026-07-06"),
        (day("2026-07-10"), "done", "2026-07-03"),  # "they got it Friday"
    ],
)
def test_days_turn_to_the_side_of_their_fact(said: Day, status: str, expected: str) -> None:
    found = turned(said, status, TODAY)
    assert found is not None
    assert str(found.from_) == expected


def test_no_day_stays_none_and_leap_days_do_not_fail() -> None:
    assert turned(None, "planned", TODAY) is None
    found = turned(day("2024-02-29"), "planned", date(2025, 2, 1))
    assert found is not None
    assert str(found.from_) == "2025-02-28"
