"""Drafts from words: the contract, told in narrations of the tests' own."""

import json
import subprocess
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from makers import COMMAND

from fieldvoice.extraction.encoder import WINDOW
from fieldvoice.extraction.extract import extract
from fieldvoice.settings import Settings
from fieldvoice.types import (
    ACTIONS,
    KINDS,
    ROLES,
    STATUSES,
    Doubt,
    Entry,
    Reading,
    Register,
    Segment,
    Transcript,
    Word,
)

AT = datetime.fromisoformat("2026-06-10T10:00:00+01:00")  # a Wednesday
HIVES = Register(("1", "2", "3", "4", "5", "nuc 1"))
NARRATIONS = Path(__file__).parents[1] / "narrations"


def rows(text: str, register: Register = HIVES) -> tuple[Entry, ...]:
    return extract(text, AT, register)


def one(found: tuple[Entry, ...], kind: str, hive: str | None) -> Entry:
    fitting = [r for r in found if r.kind == kind and r.hive == hive]
    assert len(fitting) == 1, [(r.hive, r.kind, r.item) for r in found]
    return fitting[0]


def test_a_feed_with_its_amount_and_ratio() -> None:
    row = one(rows("Hive two. Gave them three quarts of two to one."), "feed", "2")
    assert (row.action, row.status) == ("give", "done")
    said = {(v.role, v.lo, v.hi, v.unit) for v in row.values}
    assert said == {("amount", 3.0, 3.0, "quart"), ("ratio", 2.0, 2.0, "sugar:water")}


@pytest.mark.parametrize(("degrees", "unit"), [("C", "degC"), ("F", "degF"), ("", "degC")])
def test_a_bare_temperature_takes_the_scale_of_the_settings(degrees: str, unit: str) -> None:
    found = extract("Twenty eight degrees and sunny.", AT, HIVES, Settings(degrees=degrees))
    row = next(r for r in found if r.item == "temperature")
    assert [v.unit for v in row.values] == [unit]
    assert "unit-assumed" in row.flags


def test_two_numbers_of_one_sort_are_asked_about() -> None:
    found = rows("6 to 4 degrees and sunny. Hive two. Gave it two quarts, three quarts of syrup.")
    for row in found:
        sorts = [(v.role, v.unit) for v in row.values]
        assert row.flags or len(sorts) == len(set(sorts))
    assert any(len(row.values) > 1 for row in found)


def test_a_range_stays_a_range() -> None:
    row = one(rows("Hive four. Six to seven frames of bees."), "population", "4")
    assert [(v.lo, v.hi, v.unit) for v in row.values] == [(6.0, 7.0, "frame")]


def test_one_row_for_each_hive_of_a_list() -> None:
    found = rows("Hives two, three and four got a pollen patty each today.")
    assert [r.hive for r in found if r.kind == "feed"] == ["2", "3", "4"]


def test_a_hive_carries_on_until_the_next_is_opened() -> None:
    text = (
        "Hive one. Five frames of brood. Saw the queen. Hive three. No eggs. "
        "Plenty of honey on the outside frames."
    )
    found = rows(text)
    assert {r.hive for r in found if r.kind in ("brood", "queen") and r.status == "seen"} == {"1"}
    assert one(found, "stores", "3").status == "seen"
    assert one(found, "brood", "3").status == "absent"


def test_a_correction_replaces_and_flags() -> None:
    row = one(rows("Hive five. Four frames of bees, no wait, six frames."), "population", "5")
    assert [(v.lo, v.unit) for v in row.values] == [(6.0, "frame")]
    assert "corrected" in row.flags


def test_plans_have_their_days() -> None:
    row = one(rows("Hive one. I'll put a super on next Tuesday."), "equipment", "1")
    assert row.status == "planned"
    assert row.when is not None
    assert (str(row.when.from_), str(row.when.to)) == ("2026-06-16", "2026-06-16")


def test_a_mite_wash_is_one_row() -> None:
    row = one(rows("Hive three. Did the wash, seven mites in half a cup of bees."), "mites", "3")
    assert {(v.role, v.lo, v.unit) for v in row.values} == {
        ("count", 7.0, "mite"),
        ("sample", 0.5, "cup"),
    }


def test_an_unknown_hive_is_flagged() -> None:
    found = rows("Hive nineteen. Gave it a gallon of one to one syrup.")
    assert "hive-unknown" in one(found, "feed", "19").flags


def test_a_misheard_word_is_put_right_and_kept() -> None:
    row = one(rows("Hive two. Four frames of brewed."), "brood", "2")
    assert row.item == "brood"
    assert "respelled" in row.flags
    assert "brewed" in row.quote


@pytest.mark.parametrize(
    "talk",
    [
        "You never want to feed out in the open, it only starts robbing, I always say.",
        "I always say, some people just talk too much about the weather.",
        "My neighbour treats in February with whatever is on the shelf.",
        "People ask me about honey all day long. A good lid lasts twenty years.",
    ],
)
def test_general_talk_gives_no_row_that_is_not_asked_about(talk: str) -> None:
    assert [r for r in rows(talk) if not r.flags] == []


def test_silence_gives_nothing() -> None:
    assert rows("") == () == rows("  \n ")


def test_a_recap_that_differs_is_a_conflict_and_the_first_is_kept() -> None:
    text = (
        "Hive two. Gave it two quarts of one to one. Hive three. Saw eggs and the queen, "
        "marked blue. Four frames of brood. Hive four, nice and calm, seven frames of bees. "
        "So, to recap, two got three quarts, three is fine, four is fine."
    )
    row = one(rows(text), "feed", "2")
    assert ("amount", 2.0) in {(v.role, v.lo) for v in row.values}
    assert "conflict" in row.flags
    assert "three quarts" in row.details["recap"]


def test_times_and_doubt_come_from_the_transcript() -> None:
    words = ["Hive", "two.", "Gave", "them", "three", "quarts", "of", "two", "to", "one."]
    heard = tuple(Word(f" {w}", i * 0.5, i * 0.5 + 0.4, 0.95) for i, w in enumerate(words))
    transcript = Transcript(
        " ".join(words), "en", "test", "test", 10.0, (Segment(0, 10, " ".join(words), heard),)
    )
    row = one(extract(transcript, AT, HIVES), "feed", "2")
    assert row.start is not None and row.end is not None
    assert 0.5 <= row.start <= 1.5 and 4.0 <= row.end <= 5.0
    segment = Segment(
        0, 10, transcript.text, (*heard[:6], *(replace(w, probability=0.1) for w in heard[6:]))
    )
    doubtful = one(extract(replace(transcript, segments=(segment,)), AT, HIVES), "feed", "2")
    assert "heard-unsurely" in doubtful.flags
    assert doubtful.confidence < row.confidence
    doubt = Doubt(2.0, 2.4, "number", "three", (Reading("three", -1), Reading("free", -1.2)))
    disputed = one(extract(replace(transcript, doubts=(doubt,)), AT, HIVES), "feed", "2")
    assert "heard-unsurely" in disputed.flags


def test_every_field_explains_itself(tmp_path: Path) -> None:
    file = tmp_path / "talk.txt"
    file.write_text("Hive two. Gave them three quarts of two to one.", encoding="utf-8")
    register = tmp_path / "register.json"
    register.write_text('["1", "2"]', encoding="utf-8")
    done = subprocess.run(
        [COMMAND, "extract", file, "--recorded-at", "2026-06-10T10:00", "--register", register,
         "--json", "--explain"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    (row,) = json.loads(done.stdout)
    fields = {why["field"] for why in row["because"]}
    assert {"row", "kind", "status", "item", "hive", "values"} <= fields
    assert any(why["words"] == "three quarts" for why in row["because"])


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["missing.txt", "--recorded-at", "2026-06-10"], "cannot be read"),
        (["talk.txt", "--recorded-at", "yesterday"], "is not a date and time"),
        (["broken.json", "--recorded-at", "2026-06-10"], "is not JSON"),
        (["empty.json", "--recorded-at", "2026-06-10"], "no transcript in it"),
        (["talk.txt", "--recorded-at", "2026-06-10", "--register", "talk.txt"], "register"),
        (["talk.txt", "--recorded-at", "2026-06-10", "--register", "empty.json"], "JSON list"),
    ],
)
def test_bad_input_is_one_sentence(tmp_path: Path, arguments: list[str], sentence: str) -> None:
    (tmp_path / "talk.txt").write_text("Hive one is calm.", encoding="utf-8")
    (tmp_path / "broken.json").write_text("{", encoding="utf-8")
    (tmp_path / "empty.json").write_text("{}", encoding="utf-8")
    done = subprocess.run(
        [COMMAND, "extract", *arguments],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
    )
    assert done.returncode == 2
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


WORDS = st.lists(
    st.sampled_from(
        [
            "hive",
            "two",
            "seven",
            "nuc",
            "gave",
            "them",
            "a",
            "quart",
            "of",
            "one",
            "to",
            "syrup",
            "brood",
            "on",
            "frames",
            "no",
            "wait",
            "saw",
            "eggs",
            "queen",
            "next",
            "tuesday",
            "mites",
            "in",
            "half",
            "cup",
            ".",
            ",",
            "super",
            "put",
            "off",
            "didn't",
            "the",
            "blue",
            "all",
            "both",
            "rest",
        ]
    ),
    max_size=60,
)


@settings(deadline=None, max_examples=60)
@given(WORDS)
def test_any_talk_gives_rows_of_the_contract(words: list[str]) -> None:
    text = " ".join(words)
    for row in rows(text):
        assert row.kind in KINDS and row.action in ACTIONS and row.status in STATUSES
        assert row.item and row.item == row.item.lower()
        assert row.quote and row.quote in text
        assert 0 <= row.confidence <= 1
        assert row.hive is None or row.kind not in ("weather", "forage", "supply")
        assert all(v.role in ROLES and v.lo <= v.hi for v in row.values)
        assert (
            row.when is None
            or row.when.from_ is None
            or row.when.to is None
            or (row.when.from_ <= row.when.to)
        )


def test_a_long_recording_loses_and_doubles_nothing_at_the_seams_of_its_windows() -> None:
    """Ten narrations said in one go give nearly the rows that they give one by one."""
    told = [json.loads(p.read_text()) for p in sorted(NARRATIONS.glob("d*.json"))[:10]]
    hives = Register(tuple(dict.fromkeys(h for t in told for h in t["register"])))
    apart = [len(rows(t["text"], hives)) for t in told]
    together = len(rows(" ".join(t["text"] for t in told), hives))
    assert sum(len(t["text"].split()) for t in told) > 3 * WINDOW
    assert abs(together - sum(apart)) < 0.08 * sum(apart)


def test_a_range_that_counts_down_is_asked_about() -> None:
    rows = extract(
        "Six to four degrees and sunny.",
        datetime.fromisoformat("2026-05-09T10:00"),
        Register(("1",)),
    )
    temperature = next(row for row in rows if row.item == "temperature")
    assert "unsure-number" in temperature.flags
