from __future__ import annotations

import numpy as np
import pytest
from hearing_sounds import ASTERISK, RATE, load
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from fieldvoice.hearing.engines import Engine, Timed
from fieldvoice.hearing.pieces import join_pieces
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.hearing.window import hear_window, open_ear
from fieldvoice.hearing.windows import Piece, Window
from fieldvoice.trade.load import trade_file

YARD = vocabulary_from(trade_file("speech"), ["7", "20", "nuc 2"])


def heard(text: str, pause: float = 0.2) -> list[Timed]:
    step = 0.8 + pause
    return [Timed(w, i * step, i * step + 0.8, 0.9, (i,)) for i, w in enumerate(text.split())]


@pytest.mark.parametrize(
    ("text", "whole"),
    [
        ("70, 5 pounds", "75 pounds"),
        ("about 100, 50, 2 mites.", "about 152 mites."),
        ("1, 100, 42.", "142."),
        ("One hundred, ninety, three.", "193."),
        ("eight een days", "18 days"),
        ("six, two quarts", "six, two quarts"),
        ("Hive 20, 5 frames", "Hive 20, 5 frames"),
        ("Next, 20, five frames", "Next, 20, five frames"),
        ("colony 20, five frames", "colony 20, five frames"),
        ("20 frames, 5 of brood", "20 frames, 5 of brood"),
        ("at 20. 5 frames", "at 20. 5 frames"),
        ("20, 30 days", "20, 30 days"),
        ("70, 50 pounds", "70, 50 pounds"),
        ("2 to 1", "2 to 1"),
        ("7, 8, 9", "7, 8, 9"),
        ("10, 5", "10, 5"),
        ("", ""),
    ],
)
def test_parts_of_one_number_are_joined_and_two_numbers_are_not(text: str, whole: str) -> None:
    words, doubts = join_pieces(heard(text), YARD)
    assert " ".join(w.word for w in words) == whole
    assert len(doubts) == (text != whole)


def test_a_long_pause_parts_two_numbers() -> None:
    words, _ = join_pieces(heard("70, 5", pause=1.5), YARD)
    assert len(words) == 2


def test_a_join_keeps_both_readings_and_the_time() -> None:
    words, (doubt,) = join_pieces(heard("gave 70, 5 pounds"), YARD)
    assert (words[1].start, words[1].end) == (doubt.start, doubt.end) == (1.0, 2.8)
    assert [r.text for r in doubt.readings] == ["75", "70, 5"]


@given(st.integers(1, 199))
def test_any_number_said_word_by_word_is_whole(number: int) -> None:
    """num2words says it; a pause after each word."""
    said = num2words(number).replace("-", " ").replace(" and ", " ")
    words, _ = join_pieces(heard(", ".join(said.split())), YARD)
    assert [w.word.strip(",") for w in words] in ([str(number)], said.split())


@given(st.text("0123456789, .abhive", max_size=60))
def test_any_words_can_be_joined(text: str) -> None:
    words, doubts = join_pieces(heard(text), YARD)
    assert len(words) <= len(text.split())
    assert all(d.start < d.end for d in doubts)


def test_humans_numbers_in_pieces(ctranslate2: Engine) -> None:
    """The telephone prompts' numbers spliced word by word: without joining, 2 of 12 are whole."""
    ear = open_ear(ctranslate2, vocabulary_from(trade_file("speech")), None)
    right = 0
    numbers = [21, 34, 58, 65, 89, 99, 110, 125, 152, 168, 176, 193]
    for number in numbers:
        sound = spliced(number)
        heard_ = hear_window(ear, Window(sound, (Piece(0, 0, len(sound), 1.0),)))
        right += [w.word.strip(".,") for w in heard_.words] == [str(number)]
    assert right >= 9


def spliced(number: int) -> np.ndarray:
    names = [str(number // 100), "hundred"] if number >= 100 else []
    rest = number % 100
    names += [str(rest // 10 * 10), str(rest % 10)] if rest > 20 and rest % 10 else [str(rest)]
    quiet = np.zeros(RATE // 2, np.float32)
    clips = [load(ASTERISK / "digits" / f"{name}.g722") for name in names if name != "0"]
    return np.concatenate([quiet, *clips, quiet])
