"""Signals in heard words: however they are spelled, and never where none was given."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.errors import SettingsError
from fieldvoice.listening.signals import calls, find_signals
from fieldvoice.listening.wording import NAMES, load_wording
from fieldvoice.types import Word

WORDING = load_wording()
NARRATIONS = sorted((Path(__file__).parent.parent / "narrations").rglob("*.json"))


def words(text: str, pauses: dict[int, float] | None = None) -> list[Word]:
    """Each word 0.3 s long; `pauses` are seconds before the word of that number."""
    out, at = [], 0.0
    for number, word in enumerate(text.split()):
        at += (pauses or {}).get(number, 0.0)
        out.append(Word(word, at, at + 0.3, 0.9))
        at += 0.3
    return out


@pytest.mark.parametrize(
    ("heard", "name"),
    [
        # as the small model wrote down synthetic voices in wind at 10 dB
        ("Attention, logbook, scratch the hat.", "scratch"),
        ("Attention logbook, scratch net.", "scratch"),
        ("Attention, logbook, scratch mat.", "scratch"),
        ("Potention logbook, scratch that.", "scratch"),
        ("Attention loggroup, scratch that.", "scratch"),
        ("Attention lover, open Hive 7.", "open"),
        ("Attention to logbook, stop listening.", "stop"),
        ("Attention, logbook, mark list.", "mark"),
        ("Potention, logbook, mark this.", "mark"),
        ("Attention log book Hive 7.", "open"),
        ("Attention, logbook open Hive 12.", "open"),
        ("Attention, logbook, node to cell, ring to supers.", "note"),
        ("Attention, log boop, red, that back.", "read"),
        ("Attention log, book, read, snap, smack.", "read"),
        ("Attention logbook, start listening.", "stop"),
        ("Attention log loop, stop listening.", "stop"),
    ],
)
def test_a_signal_survives_its_spelling(heard: str, name: str) -> None:
    assert [signal.name for signal in find_signals(words(heard), WORDING)] == [name]


@pytest.mark.parametrize(
    "heard",
    [
        "Five frames, no, scratch that, six.",
        "Mark this queen blue. Note to self, bring two supers.",
        "She needs attention. Hive 7 next.",
        "I wrote it in the logbook, hive 7.",
        "Pay attention, look, open hive 7 slowly.",
        "Pay attention to look at hive 7 first.",
        "That one needs attention before the logbook is full. Hive 8.",
        "Attention lover, four frames of brood.",
        "Attention logbook.",
        "Attention logbook, four frames of brood.",
        "Attention, logbook, crouch, art. Mark that lid and note the heft.",
        "Attention or hut, the logbook stays in hive 1.",
        "No attention, no log, no book, and hive 2 was open.",
        "Stop listening to me.",
    ],
)
def test_ordinary_talk_is_no_signal(heard: str) -> None:
    assert find_signals(words(heard), WORDING) == ()


def test_no_narration_holds_a_signal() -> None:
    assert len(NARRATIONS) > 30
    for path in NARRATIONS:
        assert find_signals(words(json.loads(path.read_text())["text"]), WORDING) == (), path.name


def test_what_a_signal_names_ends_with_a_comma_a_stop_or_a_pause() -> None:
    (comma,) = find_signals(words("Attention logbook, open hive 7, four frames."), WORDING)
    assert (comma.said, comma.rest) == ("Attention logbook, open hive", "7,")
    (pause,) = find_signals(words("attention logbook hive nuc 2 four frames", {5: 0.8}), WORDING)
    assert pause.rest == "nuc 2"
    assert pause.until == pytest.approx(5 * 0.3)


def test_a_note_goes_on_to_a_pause_and_not_into_the_next_signal() -> None:
    text = "attention logbook note to self mend the fence attention logbook mark this"
    note, mark = find_signals(words(text), WORDING)
    assert (note.rest, mark.name) == ("mend the fence", "mark")
    (alone,) = find_signals(
        words("attention logbook note to self mend it so hive 8", {7: 2.0}), WORDING
    )
    assert alone.rest == "mend it"


def test_the_signal_must_follow_the_phrase() -> None:
    assert find_signals(words("attention logbook mark this", {2: 2.4}), WORDING)
    assert not find_signals(words("attention logbook mark this", {2: 2.6}), WORDING)


def test_a_call_that_waits_for_its_signal() -> None:
    assert calls(words("four frames attention logbook"), WORDING) == pytest.approx(0.6)
    assert calls(words("attention logbook mark this"), WORDING) is None
    assert calls(words("four frames of brood"), WORDING) is None


@given(
    st.lists(st.sampled_from(["attention", "logbook", "hive", "7.", "mark", "this,", "note", "to"]))
)
def test_signals_lie_in_the_words_and_apart(said: list[str]) -> None:
    heard = words(" ".join(said))
    found = find_signals(heard, WORDING)
    for signal in found:
        assert 0.0 <= signal.start < signal.end <= signal.until <= heard[-1].end
        assert signal.name in NAMES
    for one, other in pairwise(found):
        assert one.end <= other.start + 1e-9


def test_own_words_replace_ours(tmp_path: Path) -> None:
    (tmp_path / "signals.toml").write_text(
        'wake = ["yellow bucket"]\n[signals.mark]\nsay = ["remember this"]\n', encoding="utf-8"
    )
    own = load_wording(tmp_path)
    (mark,) = find_signals(words("yellow bucket remember this"), own)
    assert mark.name == "mark"
    assert not find_signals(words("attention logbook mark this"), own)
    assert own.signals["open"] == WORDING.signals["open"]


def test_all_problems_of_own_words_at_once(tmp_path: Path) -> None:
    (tmp_path / "signals.toml").write_text(
        'wake = "one"\nvolume = 3\n[signals.sing]\nsay = ["la"]\n[signals.mark]\nmost = "two"\n',
        encoding="utf-8",
    )
    with pytest.raises(SettingsError) as error:
        load_wording(tmp_path)
    for part in ("wake = 'one'", "volume", "signals.sing", "signals.mark.most = 'two'"):
        assert part in str(error.value)
