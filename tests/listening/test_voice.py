"""Answers: a tone that rises or falls, or a sentence that can be understood."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest

from fieldvoice.listening.flac import Samples
from fieldvoice.listening.own import own_words
from fieldvoice.listening.voice import RATE, Voice, speak, tone
from fieldvoice.types import Signal, Word


def pitch(sound: Samples) -> float:
    spectrum = np.abs(np.fft.rfft(sound.astype(float)))
    return float(np.argmax(spectrum) * RATE / len(sound))


def test_yes_rises_and_no_falls() -> None:
    for understood in (True, False):
        sound = tone(understood=understood)
        half = len(sound) // 3
        assert (pitch(sound[:half]) < pitch(sound[-half:])) == understood
        assert 0.1 < len(sound) / RATE < 0.5
        assert np.abs(sound).max() < 0.4 * 32767


def test_a_sentence_is_spoken() -> None:
    espeak = shutil.which("espeak-ng")
    assert espeak is not None
    spoken = speak(espeak, "hive 7, syrup, 2 quarts, 1 to 1")
    assert spoken is not None
    sound, rate = spoken
    assert 1.5 < len(sound) / rate < 6.0
    assert np.abs(sound).max() > 3000


def test_a_program_that_fails_gives_no_sentence(tmp_path: Path) -> None:
    assert speak("/bin/false", "hive 7") is None
    assert speak(str(tmp_path / "none"), "hive 7") is None


@pytest.mark.parametrize("tones", [True, False])
def test_answers_come_one_after_the_other_and_are_told(tones: bool) -> None:
    told: list[tuple[str, str]] = []
    played: list[int] = []
    voice = Voice(
        lambda said, phase: told.append((said, phase)),
        lambda sound, rate: played.append(len(sound)),
        tones=tones,
    )
    voice.answer("hive 7")
    voice.not_understood()
    voice.close()
    first = "" if tones else "hive 7"
    assert told == [(first, "begins"), (first, "ends"), ("", "begins"), ("", "ends")]
    assert len(played) == 2


def said(text: str, start: float) -> list[Word]:
    return [
        Word(w, start + 0.3 * n, start + 0.3 * n + 0.25, 0.9) for n, w in enumerate(text.split())
    ]


@pytest.mark.parametrize(
    ("heard", "own"),
    [
        ("hive seven, two quarts, one to one", "hive seven, two quarts, one to one"),
        ("I have seven to quarts one two one", "have seven to quarts one two one"),  # misheard
        ("six frames of honey here", ""),  # the keeper spoke into it, the answer was not heard
    ],
)
def test_only_what_reads_like_the_answer_is_the_recorders_own(heard: str, own: str) -> None:
    words = said(heard, 10.0)
    answer = Signal("answer", 9.9, 13.0, 13.0, "hive seven, two quarts, one to one")
    found = own_words(words, [answer])
    assert " ".join(w.word for w in words if w in found) == own
    assert own_words(words, []) == frozenset()
