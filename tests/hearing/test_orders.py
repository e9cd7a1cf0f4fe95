"""What is said to the recorder: found near its phrase, decided on the sound, put in its place."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import ASTERISK, RATE, load

from fieldvoice.hearing.engines import Engine, Timed
from fieldvoice.hearing.judges import Judges
from fieldvoice.hearing.labels import Judge
from fieldvoice.hearing.orders import Order, calls, orders, put_orders
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.types import Doubt

TOLD = Vocabulary(
    calls=("attention logbook",),
    orders=("open hive", "hive", "note to self", "scratch that", "mark this", "stop listening"),
)
COUNTED = Vocabulary(calls=("7 8 9",), orders=("1 2", "3 4", "5 6", "1 3"))


def heard(text: str, engine: Engine | None = None) -> list[Timed]:
    return [
        Timed(w, i, i + 0.8, 0.9, tuple(engine.tokens(w)) if engine else (i,))
        for i, w in enumerate(text.split())
    ]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Attention, logbook, mark this.", ["Attention, logbook,"]),
        ("brood. A tension, log book, hive 7", ["A tension, log book,"]),
        ("That's in Shondlock book. Read that back.", ["That's in Shondlock book."]),
        ("No cells. That's in Shawn Lundbook. Read that back.", ["That's in Shawn Lundbook."]),
        ("Attention logbook, mark this. Attention log, scratch", ["Attention logbook,", "Attention log,"]),
        ("Four frames of brood and she is calm.", []),
        ("", []),
    ],
)  # fmt: skip
def test_words_like_the_phrase(text: str, found: list[str]) -> None:
    words = heard(text)
    places = [" ".join(w.word for w in words[c.first : c.after]) for c in calls(words, TOLD)]
    assert places == found


def test_without_a_phrase_nothing_is_asked() -> None:
    assert calls(heard("Attention logbook, mark this."), Vocabulary()) == []


def found_in(engine: Engine, sound: np.ndarray, text: str, vocabulary: Vocabulary) -> list[Order]:
    words = heard(text, engine)
    judge = Judges(engine, "").judge(engine.encode(sound), words)
    return orders(words, calls(words, vocabulary), vocabulary, judge)


def ordered(engine: Engine, sound: np.ndarray, text: str, vocabulary: Vocabulary) -> list[str]:
    """The orders that the sound speaks for where `text` was heard."""
    found = found_in(engine, sound, text, vocabulary)
    return [" ".join(w.word for w in one.words) for one in found]


def said(folder: Path, text: str) -> np.ndarray:
    subprocess.run(["flite", "-voice", "rms", "-t", text, "-o", folder / "said.wav"], check=True)
    return load(folder / "said.wav")


class Fixed(Judge):
    """Every order fits worse than what was heard, by as much as it is told."""

    def __init__(self, behind: float) -> None:
        object.__setattr__(self, "lead", 0)
        object.__setattr__(self, "behind", behind)

    def rank(self, after: int, texts: Sequence[str]) -> list[float]:
        return [-float(len(text)) for text in texts]

    def weigh(self, after: int, texts: Sequence[str], rest: str) -> list[float]:
        return [0.0] + [-self.__getattribute__("behind") for _ in texts[1:]]


@pytest.mark.parametrize(
    ("text", "behind", "found"),
    [
        ("That's in Shawn Lundbook. Read that back.", 17.0, True),  # the order is not in question
        ("That's in Shawn Lundbook. Read the pack.", 17.0, False),
        ("That's in Shawn Lundbook. Read the pack.", 14.5, True),
        ("That's in Shawn Lundbook. Read that back.", 20.0, False),
        ("That's in Shawn Lundbook. Hive", 17.0, False),  # one word alone is soon heard
        ("Attention logbook, read the pack.", 13.5, True),
        ("Attention logbook, read the pack.", 14.5, False),
    ],
)
def test_how_far_behind_an_order_may_be(text: str, behind: float, found: bool) -> None:
    told = replace(TOLD, orders=(*TOLD.orders, "read that back"))
    words = heard(text)
    assert bool(orders(words, calls(words, told), told, Fixed(behind))) is found


@pytest.mark.model
def test_an_order_with_its_label_is_told_by_its_sound(ctranslate2: Engine, tmp_path: Path) -> None:
    twelve = said(tmp_path, "attention logbook, hive twelve.")
    labels = replace(TOLD, cue="hive", labels=("7", "11", "12", "20", "nuc 2"))
    found = ordered(ctranslate2, twelve, "Attention logbook, oi, twale.", labels)
    assert found == ["Attention logbook, hive 12."]


@pytest.mark.model
def test_the_order_is_told_by_its_sound(ctranslate2: Engine, tmp_path: Path) -> None:
    note = said(tmp_path, "attention logbook, note to self, the fence needs mending.")
    found = ordered(ctranslate2, note, "Attention logbook, north to south, the fence needs", TOLD)
    assert found == ["Attention logbook, note to self,"]
    # The phrase too: no letters are near it, and yet it is the better account of the sound.
    found = ordered(ctranslate2, note, "That's in Shondlock book, note to self, the fence", TOLD)
    assert found == ["Attention logbook, note to self,"]


@pytest.mark.model
def test_what_is_no_order_stays(ctranslate2: Engine, tmp_path: Path) -> None:
    cake = said(tmp_path, "attention logbook, two boxes of cake.")
    assert ordered(ctranslate2, cake, "Attention logbook, two boxes of cake.", TOLD) == []
    full = said(tmp_path, "that one needs attention before the log book is full.")
    text = "That one needs attention before the log book is full."
    assert calls(heard(text), TOLD)
    assert ordered(ctranslate2, full, text, TOLD) == []
    # The number is what the order is about, however it was written.
    hive = said(tmp_path, "attention logbook, open hive nine.")
    text = "Attention logbook, open Hive9."
    put, _ = put_orders(heard(text), [], found_in(ctranslate2, hive, text, TOLD))
    assert put[-1].word == "Hive9."
    # A keeper's orders may all be of one word.
    short = Vocabulary(calls=("attention logbook",), orders=("remember",))
    assert ordered(ctranslate2, cake, "Attention logbook, two boxes of cake.", short) == []
    # Heard letter by letter, the phrase and the order need no second look.
    assert ordered(ctranslate2, full, "Attention logbook, mark this.", TOLD) == []


@pytest.mark.model
@pytest.mark.parametrize(
    ("order", "written"), [("1 2", "9 two"), ("3 4", "free for"), ("5 6", "hive 6")]
)
def test_a_humans_order_is_told_by_its_sound(ctranslate2: Engine, order: str, written: str) -> None:
    """Telephone prompts: "seven eight nine" calls, two digits are the order."""
    quiet = np.zeros(RATE // 8, np.float32)
    parts = [load(ASTERISK / "digits" / f"{n}.g722") for n in f"7 8 9 {order}".split()]
    sound = np.concatenate([x for part in parts for x in (quiet, part)] + [quiet])
    assert ordered(ctranslate2, sound, f"7, 8, 9, {written}", COUNTED) == [f"7 8 9, {order}"]


def test_an_order_stands_where_it_was_heard_and_its_doubts_are_gone() -> None:
    words = heard("So. Attention log, scratch mat. Next hive")
    order = Order(tuple(heard("_ Attention logbook, scratch that.")[1:]), 1.0)
    before, inside = (Doubt(at, at + 0.8, "number", "x", ()) for at in (0.0, 3.0))
    out, doubts = put_orders(words, [before, inside], [order])
    assert " ".join(w.word for w in out) == "So. Attention logbook, scratch that. Next hive"
    assert [w.start for w in out] == sorted(w.start for w in out)
    assert doubts == [before]
