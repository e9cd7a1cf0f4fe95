"""What is offered beside a doubtful row, and which digit chooses it."""

from __future__ import annotations

from datetime import date
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.cli.page import days_of_words, numbers_of_words
from fieldvoice.review.offers import DIGITS, MOST_HIVES, Nearby, hive_keys, offers_of
from fieldvoice.review.page.typed import read_entry
from fieldvoice.types import Doubt, Draft, Entry, Reading, Register, Value, When

DAY = date(2026, 10, 3)  # a Saturday
ROW = Entry("7", "population", "see", "bees", "seen", quote="Few frames of bees", start=10, end=12)


def offered(entry: Entry, flags: tuple[str, ...], *doubts: Doubt) -> dict[str, Entry]:
    """What each offer says, and the row that it would make."""
    found: dict[str, Entry] = {}
    for offer in offers_of(entry, flags, doubts, numbers_of_words, {"7": "7"}):
        fields: dict[str, Any] = dict(offer.fields)
        read, problems = read_entry(entry, fields, DAY, days_of_words)
        assert problems == {}
        found[offer.words] = read
    return found


def doubt(heard: str, *others: str) -> Doubt:
    return Doubt(10, 11, "number", heard, tuple(Reading(text, 0.5) for text in (heard, *others)))


def numbers(entry: Entry) -> list[tuple[str, float, float, str | None]]:
    return [(value.role, value.lo, value.hi, value.unit) for value in entry.values]


def row(*values: Value, quote: str = "", **fields: Any) -> Entry:
    made = Entry("7", "mites", "sample", "mite", "done", values, quote=quote)
    return Entry(**{name: getattr(made, name) for name in made.__slots__} | fields)


def test_a_number_the_recogniser_might_have_heard() -> None:
    found = offered(ROW, ("heard-unsurely",), doubt("Few", "Two"))
    assert list(found) == ["2 frames"]
    assert numbers(found["2 frames"]) == [("count", 2, 2, "frame")]


def test_a_number_that_may_have_been_another() -> None:
    heard = row(Value("count", 18, 18, "mite"), quote="18 mites")
    found = offered(heard, ("unsure-number",), doubt("18", "8"))
    assert numbers(found["8 mites"]) == [("count", 8, 8, "mite")]
    assert numbers(found["80 mites"]) == [("count", 80, 80, "mite")]  # eighteen, eighty
    assert numbers(found["without 18 mites"]) == []


def test_of_two_numbers_of_one_sort_either() -> None:
    two = row(
        Value("duration", 3, 3, "day"), Value("count", 42, 42, "mite"),
        Value("count", 44, 44, "mite"), quote="three days on it, 42, no, 44 mites",
    )  # fmt: skip
    found = offered(two, ("corrected", "unsure-number"))
    assert [v[1] for v in numbers(found["only 44 mites"])] == [3, 44]
    assert [v[1] for v in numbers(found["only 42 mites"])] == [3, 42]
    assert found["only 44 mites"].flags == ()


def test_sixty_four_heard_as_six_to_four() -> None:
    two = row(Value("temperature", 6, 6, "degF"), Value("temperature", 4, 4, "degF"))
    assert numbers(offered(two, ("unsure-number",))["64 °F"]) == [("temperature", 64, 64, "degF")]


def test_a_count_of_no_word_of_the_trade_was_of_the_thing() -> None:
    medium = row(Value("count", 1, 1, "medium"), item="super", kind="equipment", action="add")
    assert numbers(offered(medium, ())["1 super"]) == [("count", 1, 1, "super")]
    for known in ("frame", "super", "mite", "cup"):
        assert offered(row(Value("count", 1, 1, known), item="super"), ()) == {}


def test_a_day_by_its_number() -> None:
    """What lies ahead is planned; "by" begins on the day of the recording."""
    feeder = row(quote="the feeder comes off 5 by the 24", item="feeder")
    found = offered(feeder, ("unsure-status",))["by the 24"]
    assert (found.when, found.status) == (When(DAY, date(2026, 10, 24)), "planned")
    one = offered(row(quote="on the 29th", status="planned"), ())["on the 29"]
    assert one.when == When(date(2026, 10, 29), date(2026, 10, 29))
    assert offered(row(quote="on the 29th of May"), ()) == {}  # another's to read


def test_what_a_recap_said_instead() -> None:
    """Another number, or the same number at another hive."""
    told = row(
        Value("amount", 1, 1, "pound"), item="fondant", details={"recap": "eight: two pounds"}
    )
    assert numbers(offered(told, ("conflict",))["2 pounds"]) == [("amount", 2, 2, "pound")]
    same = row(Value("amount", 1, 1, "pound"), details={"recap": "14: one pound"})
    assert offered(same, ("conflict",))["hive 14"].hive == "14"
    known = row(Value("amount", 1, 1, "pound"), details={"recap": "seven: one pound"})
    assert offered(known, ("conflict",)) == {}  # its own


def test_what_became_of_it() -> None:
    found = offered(row(flags=("unsure-status",)), ("unsure-status",))
    assert {entry.status for entry in found.values()} == {"planned", "skipped", "past"}
    assert all(entry.flags == () for entry in found.values())


@given(st.lists(st.from_regex(r"[A-Za-z]{0,4} ?[0-9]{1,3}", fullmatch=True), max_size=9))
def test_each_hive_has_its_own_digit(labels: list[str]) -> None:
    keys = hive_keys(labels)
    assert len(set(keys.values())) == len(keys)
    assert set(keys.values()) <= set(DIGITS)
    assert set(keys) == set(labels)
    for label in labels:
        if label in set(DIGITS):
            assert keys[label] == label  # 8 is hive 8


def draft(hive: str | None, start: float) -> Draft:
    entry = Entry(hive, "brood", "see", "egg", "seen", start=start, end=start + 1)
    return Draft(f"{hive} {start}", "r", 1, "waiting", entry)


def test_the_hives_spoken_of_nearest() -> None:
    """In the order of the register, so that a hive keeps its digit from row to row."""
    drafts = [draft(str(n), 10.0 * n) for n in range(1, 21)]
    register = Register(tuple(str(n) for n in range(1, 31)))
    near = Nearby(drafts, register)
    assert near.hives(draft("10", 100).entry) == ("7", "8", "9", "10", "11", "12")
    assert len(near.hives(draft(None, 0).entry)) == MOST_HIVES
    assert "30" not in near.hives(draft("20", 200).entry)  # nobody spoke of it
    few = Nearby(drafts[:2], Register(("1", "2", "3")))
    assert few.hives(draft("1", 10).entry) == ("1", "2", "3")  # all there are


def test_numbers_that_words_say() -> None:
    assert numbers_of_words("17.5%, no, twenty one") == [17.5, 21]
    assert numbers_of_words("Few frames") == []
