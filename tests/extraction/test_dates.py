"""Dates as spoken, against the conventions of the row contract and printed dates."""

from __future__ import annotations

import json
import time
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from fieldvoice.extraction.dates import DateSpan, find_dates
from fieldvoice.extraction.quantities import find_quantities, vocabulary
from tests.quantities.score import own_dates, score_quantities

NARRATIONS = Path(__file__).parent.parent / "narrations"
SATURDAY = date(2026, 4, 18)
TUESDAY = date(2026, 5, 12)
DAYS = st.dates(date(2001, 1, 1), date(2060, 12, 31))


def windows(text: str, recorded_on: date = SATURDAY) -> list[tuple[str, str]]:
    return [
        (d.from_.isoformat(), d.to.isoformat())
        for d in find_dates(text, recorded_on)
        if d.from_ and d.to
    ]


def only(text: str, recorded_on: date = SATURDAY) -> DateSpan:
    (found,) = find_dates(text, recorded_on)
    return found


# --- the conventions of a row's `when` --------------------------------------


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("I'll do it next week", "2026-04-20", "2026-04-26"),
        ("last week they were fine", "2026-04-06", "2026-04-12"),
        ("last month I fed it", "2026-03-01", "2026-03-31"),
        ("I'll paint them this weekend", "2026-04-18", "2026-04-19"),
        ("look again in two weeks", "2026-05-02", "2026-05-02"),
        ("I split it two weeks ago", "2026-04-04", "2026-04-04"),
        ("next Tuesday", "2026-04-21", "2026-04-21"),
        ("next Saturday", "2026-04-25", "2026-04-25"),
        ("last Saturday I looked", "2026-04-11", "2026-04-11"),
        ("it swarmed on Thursday", "2026-04-16", "2026-04-16"),
        ("I'm splitting it on Thursday", "2026-04-23", "2026-04-23"),
        ("I'll be here on Saturday", "2026-04-25", "2026-04-25"),
        ("In November I'm wrapping them", "2026-11-01", "2026-11-30"),
        ("in November they were strong", "2025-11-01", "2025-11-30"),
        ("done by the twentieth", "2026-04-18", "2026-04-20"),
        ("yesterday", "2026-04-17", "2026-04-17"),
        ("buy sugar tomorrow", "2026-04-19", "2026-04-19"),
        ("a week from Thursday", "2026-04-30", "2026-04-30"),
        ("Friday week", "2026-05-01", "2026-05-01"),
        ("the day before yesterday", "2026-04-16", "2026-04-16"),
        ("in a fortnight", "2026-05-02", "2026-05-02"),
        ("the first week of May", "2026-05-01", "2026-05-07"),
        ("in mid June", "2026-06-10", "2026-06-20"),
        ("the twenty eighth of December it got its oxalic", "2025-12-28", "2025-12-28"),
        ("six to eight weeks ago", "2026-02-21", "2026-03-07"),
    ],
)
def test_conventions(text: str, first: str, last: str) -> None:
    assert windows(text) == [(first, last)]


@pytest.mark.parametrize(
    "text", ["today", "this morning", "tonight", "it's Saturday the eighteenth of April"]
)
def test_the_day_of_the_recording_gives_no_window(text: str) -> None:
    found = only(text)
    assert (found.kind, found.from_, found.to) == ("today", None, None)


@pytest.mark.parametrize(
    "text",
    [
        "soon", "in spring", "in the fall", "every ten days", "once a week", "two weeks",
        "they may be late", "march over there", "an august hive", "the second frame",
        "the third box", "two to one", "six to eight frames", "3/4 drawn", "one in ten cells",
        "they emptied it in two days", "the other day", "at half past six", "Saturdays",
        "brood on the second and third frame", "wait a second", "next time",
    ],
)  # fmt: skip
def test_words_that_give_no_date(text: str) -> None:
    assert not windows(text)


def test_a_length_of_time_counts_from_the_date_before_it() -> None:
    text = "Treat on April twentieth and again a week after that."
    assert windows(text) == [("2026-04-20",) * 2, ("2026-04-27",) * 2]


def test_two_dates_said_as_one_stretch() -> None:
    found = only("April second to April ninth was too cold")
    assert (found.kind, found.from_, found.to) == ("span", date(2026, 4, 2), date(2026, 4, 9))


def test_direction_and_doubt() -> None:
    assert only("yesterday").direction == "past"
    assert only("next week").direction == "future"
    assert only("Wednesday, sun").unsure
    assert not only("I'll come Wednesday").unsure


def test_the_order_of_day_and_month_can_be_set() -> None:
    assert windows("treated on 5/6/2026") == [("2026-05-06", "2026-05-06")]
    (found,) = find_dates("treated on 5/6/2026", SATURDAY, day_first=True)
    assert found.from_ == date(2026, 6, 5)
    assert windows("treated on 25/6/2026") == [("2026-06-25", "2026-06-25")]


def test_an_impossible_day_is_no_date() -> None:
    assert not windows("on the thirty first of April")
    assert not windows("on February thirtieth")


def test_a_date_does_not_cut_into_a_quantity() -> None:
    text = "look again in two weeks"
    (taken,) = [(q.start, q.end) for q in find_quantities(text)]
    assert len(find_dates(text, SATURDAY, [taken])) == 1
    assert not find_dates(text, SATURDAY, [(taken[0] - 6, taken[1] - 2)])


# --- what is printed is read back -------------------------------------------


def ordinal(number: int) -> str:
    return str(num2words(number, to="ordinal")).replace("-", " ")


@given(DAYS, DAYS)
def test_full_dates_are_read_back(day: date, recorded_on: date) -> None:
    month = day.strftime("%B")
    for said in (
        f"{month} {day.day}, {day.year}",
        f"{month} {num2words(day.day, to='ordinal_num')}, {day.year}",
        f"the {ordinal(day.day)} of {month} {day.year}",
        f"{day.month}/{day.day}/{day.year}",
        day.isoformat(),
    ):
        found = only(f"treated on {said}.", recorded_on)
        assert (found.from_ or recorded_on) == day, said
        assert said in found.said or found.said in said


@given(DAYS, st.integers(1, 360))
def test_past_and_coming_days_find_their_year(recorded_on: date, away: int) -> None:
    for day, sentence in (
        (recorded_on - timedelta(days=away), "I fed them on {}"),
        (recorded_on + timedelta(days=away), "I will feed them on {}"),
    ):
        if (day.month, day.day) == (2, 29):
            continue
        said = f"{day.strftime('%B')} {ordinal(day.day)}"
        assert windows(sentence.format(said), recorded_on) == [(day.isoformat(),) * 2], said


@given(DAYS, st.integers(1, 60), st.sampled_from(["day", "week"]))
def test_lengths_of_time_are_counted(recorded_on: date, number: int, unit: str) -> None:
    days = number * (7 if unit == "week" else 1)
    words = "a" if number == 1 else str(num2words(number)).replace("-", " ")
    name = unit if number == 1 else unit + "s"
    coming = (recorded_on + timedelta(days=days)).isoformat()
    past = (recorded_on - timedelta(days=days)).isoformat()
    assert windows(f"back in {words} {name}", recorded_on) == [(coming,) * 2]
    assert windows(f"{words} {name} from now", recorded_on) == [(coming,) * 2]
    assert windows(f"fed them {words} {name} ago", recorded_on) == [(past,) * 2]


@given(DAYS, DAYS)
def test_weekdays_are_within_a_week_and_never_today(recorded_on: date, any_day: date) -> None:
    name = any_day.strftime("%A")
    (last,) = windows(f"it swarmed on {name}", recorded_on)
    (coming,) = windows(f"I'll look on {name}", recorded_on)
    for window, sign in ((last, -1), (coming, 1)):
        day = date.fromisoformat(window[0])
        assert day.weekday() == any_day.weekday()
        assert 1 <= sign * (day - recorded_on).days <= 7


# --- laws -------------------------------------------------------------------

WORDS = sorted(
    set(
        [
            "the",
            "a",
            "an",
            "in",
            "on",
            "by",
            "of",
            "to",
            "at",
            "since",
            "until",
            "from",
            "next",
            "last",
            "this",
            "week",
            "weekend",
            "month",
            "year",
            "day",
            "days",
            "weeks",
            "months",
            "ago",
            "fortnight",
            "before",
            "after",
            "that",
            "now",
            "today",
            "tomorrow",
            "yesterday",
            "tonight",
            "morning",
            "monday",
            "friday",
            "sunday",
            "april",
            "may",
            "march",
            "june",
            "august",
            "december",
            "first",
            "second",
            "third",
            "tenth",
            "twenty",
            "twentieth",
            "one",
            "two",
            "three",
            "ten",
            "half",
            "couple",
            "5",
            "6",
            "31",
            "2026",
            "5/6",
            "8/14/2026",
            "1st",
            "28th",
            ",",
            ".",
            "-",
            "every",
            "mid",
            "late",
            "early",
            "end",
            "middle",
            "fall",
            "spring",
            "halloween",
            "christmas",
            "eve",
            "new",
            "year",
            "'s",
            "week's",
            "past",
            "coming",
            "i'll",
            "gave",
            "was",
            "will",
            "fed",
            "later",
            "earlier",
            "from",
            "now",
            "back",
            "or",
            "and",
            "between",
        ]
    )
    | {w for said in vocabulary().names["week"] for w in said[0]}
)


@given(st.lists(st.sampled_from(WORDS), max_size=14).map(" ".join), DAYS)
def test_any_row_of_date_words_keeps_the_laws(text: str, recorded_on: date) -> None:
    found = find_dates(text, recorded_on)
    for d in found:
        assert text[d.start : d.end] == d.said
        assert (d.from_ is None) == (d.to is None) == (d.kind == "today")
        if d.from_ and d.to:
            assert d.from_ <= d.to
    assert all(a.end <= b.start for a, b in pairwise(found))


@given(st.text(max_size=200), DAYS)
def test_no_text_makes_the_reader_fail(text: str, recorded_on: date) -> None:
    for d in find_dates(text, recorded_on):
        assert text[d.start : d.end] == d.said


@pytest.mark.parametrize("edge", [date.min, date.max, date(2024, 2, 29)])
def test_the_calendar_has_edges(edge: date) -> None:
    for text in ("next week", "two weeks ago", "in ten years", "last month", "May second", "by Friday",
                 "the week before last", "in 400 months", "a thousand weeks ago", "this weekend",
                 "on the 29th", "last year", "next year", "February 29th", "ten years ago",
                 "last June", "next June", "a week from Thursday", "Friday fortnight"):  # fmt: skip
        find_dates(text, edge)


# --- the case sets ----------------------------------------------------------


def test_field_phrases_dates() -> None:
    (row,) = [r for r in score_quantities() if r.name == "fieldphrases dates"]
    assert row.items == 40
    assert row.share >= 0.95
    assert row.stray == 0


def test_own_dates_of_other_wording() -> None:
    assert own_dates().share >= 0.95


def test_every_window_of_the_narrations_is_found() -> None:
    missing, many = [], 0
    for path in sorted(NARRATIONS.glob("*.json")):
        note = json.loads(path.read_text(encoding="utf-8"))
        found = windows(note["text"], date.fromisoformat(note["recorded_at"][:10]))
        for entry in note["entries"]:
            if when := entry.get("when"):
                many += 1
                if (when["from"], when["to"]) not in found:
                    missing.append((note["id"], when, entry["quote"]))
    assert many > 60
    assert len(missing) <= 0.05 * many, missing


def test_three_thousand_words_a_second() -> None:
    find_dates("on April second", SATURDAY)  # loads dateparser
    texts = [
        json.loads(path.read_text(encoding="utf-8"))["text"]
        for path in sorted(NARRATIONS.glob("*.json"))
    ]
    words = sum(len(text.split()) for text in texts)
    start = time.process_time()
    for text in texts:
        find_dates(text, TUESDAY)
    assert words / (time.process_time() - start) > 3000


def test_long_rows_of_date_words_take_time_in_proportion() -> None:
    row = " ".join(WORDS * 100)
    start = time.process_time()
    find_dates(row, TUESDAY)
    assert time.process_time() - start < 20


@pytest.mark.parametrize(
    ("said", "day"),
    [
        # Easter 2026 is the 5th of April: the US Naval Observatory's table of Easter dates,
        # https://aa.usno.navy.mil/data/easter (from memory)
        ("I split it on Good Friday.", "2026-04-03"),
        ("I split it on Easter Monday.", "2026-04-06"),
        # 5 U.S.C. 6103: the last Monday in May, the fourth Thursday in November
        ("It was fed on Memorial Day.", "2026-05-25"),
        ("I'll do it on Thanksgiving.", "2026-11-26"),
        # Banking and Financial Dealings Act 1971, schedule 1: the last Monday in August
        ("I'll requeen on August bank holiday.", "2026-08-31"),
    ],
)
def test_days_that_move_from_year_to_year(said: str, day: str) -> None:
    (found,) = find_dates(said, date(2026, 6, 20))
    assert str(found.from_) == day == str(found.to)


@pytest.mark.parametrize("said", ["since October. Five has bees", "in May. Nine is light"])
def test_a_month_at_a_sentence_end_takes_no_day_from_the_next(said: str) -> None:
    (found,) = find_dates(said, date(2026, 11, 8))
    assert found.kind == "month"


@pytest.mark.parametrize(
    ("said", "day"),
    [
        ("The feeder comes off five by the 24.", "2026-08-24"),
        ("I'll look again on the 29 if it's cooled.", "2026-08-29"),
        ("Recheck the twenty-sixth.", "2026-08-26"),
        ("It's put off to the twenty-third.", "2026-08-23"),
        ("They got supers in June, on the tenth.", "2026-06-10"),
    ],
)
def test_days_of_the_month_as_they_are_said(said: str, day: str) -> None:
    assert str(find_dates(said, date(2026, 8, 20))[-1].to) == day


@pytest.mark.parametrize(
    "said", ["brood on the 3 frames", "it's on the 2 box", "bees on the 12 frames"]
)
def test_a_number_of_things_is_no_day(said: str) -> None:
    assert not find_dates(said, date(2026, 8, 20))
