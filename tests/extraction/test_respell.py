"""Misheard trade words are put right, and correct sentences are left alone."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.extraction.document import Document, read_document, spacy_without_torch
from fieldvoice.extraction.respell import respell
from fieldvoice.trade.load import trade_file

NARRATIONS = Path(__file__).parents[1] / "narrations"


def respelled(text: str) -> Document:
    return respell(read_document(spacy_without_torch().blank("en").make_doc(text)))


@pytest.mark.parametrize(
    ("heard", "right"),
    [
        ("five frames of brewed", "five frames of brood"),
        ("did a might wash", "did a mite wash"),
        ("two supersede your cells", "two supersedure cells"),
        ("gave it a court of syrup", "gave it a quart of syrup"),
        ("bees on six seems", "bees on six seams"),
        ("put the queen exclude her on", "put the queen excluder on"),
    ],
)
def test_misheard_words_are_put_right(heard: str, right: str) -> None:
    assert respelled(heard).text == right


@pytest.mark.parametrize(
    "text",
    [
        "It might rain, so it seems we are done.",
        "The food court was full, nothing to do with bees.",
        "I knocked on his door and had a nut bar.",
        "He brews beer, and it was brewing when I left.",
        "The storm took the lid off.",
        "My neck hurts from bending.",
    ],
)
def test_ordinary_words_are_left_alone(text: str) -> None:
    assert respelled(text).text == text


def test_narrations_without_mishearings_are_hardly_touched() -> None:
    """The labels say which rows hold a misheard word; the others give the false alarms."""
    touched = words = 0
    for path in sorted(NARRATIONS.glob("d*.json")):
        doc = json.loads(path.read_text())
        if any("respelled" in row["flags"] for row in doc["entries"]):
            continue
        document = respelled(doc["text"])
        words += len(document.tokens)
        touched += sum(bool(t.heard) for t in document.tokens)
    assert words > 3000
    assert touched / words < 0.001


def test_what_was_heard_is_kept() -> None:
    document = respelled("Nice brewed here.")
    token = next(t for t in document.tokens if t.low == "brood")
    assert token.heard == "brewed"
    assert document.source[token.origin[0] : token.origin[1]] == "brewed"


def test_no_heard_phrase_is_itself_right() -> None:
    raw = trade_file("mishearings")
    for right, heard in raw["always"].items():
        assert right not in heard, right


@given(st.text(max_size=300))
def test_origins_slice_the_text_as_it_came(text: str) -> None:
    document = respelled(text)
    assert document.source == text
    for token in document.tokens:
        assert 0 <= token.origin[0] < token.origin[1] <= len(text)
        assert document.text[token.start : token.end] == token.text
