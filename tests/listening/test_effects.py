"""What signals do to the text that is extracted and to the drafts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fieldvoice.listening.carrying import flag_carried, opened_before
from fieldvoice.listening.effects import with_effects, without_signals
from fieldvoice.listening.signals import find_signals
from fieldvoice.listening.wording import load_wording
from fieldvoice.types import Doubt, Entry, Segment, Signal, Transcript, Word
from fieldvoice.wire import transcript_from_json, transcript_to_json

WORDING = load_wording()


def heard(*sentences: str) -> Transcript:
    """Sentences 1 s apart, each word 0.3 s long, with the signals in them."""
    segments, at = [], 0.0
    for sentence in sentences:
        words = []
        for word in sentence.split():
            words.append(Word(word, round(at, 3), round(at + 0.3, 3), 0.9))
            at += 0.3
        segments.append(Segment(words[0].start, words[-1].end, sentence, tuple(words)))
        at += 1.0
    transcript = Transcript(" ".join(sentences), "en", "x", "y", at, tuple(segments))
    every = [word for segment in segments for word in segment.words]
    return replace(transcript, signals=find_signals(every, WORDING))


def row(transcript: Transcript, quote: str, **more: object) -> Entry:
    """A draft made of the first words that read like `quote`."""
    words = [w for s in transcript.segments for w in s.words]
    parts = quote.split()
    at = next(n for n in range(len(words)) if [w.word for w in words[n : n + len(parts)]] == parts)
    entry = Entry("7", "brood", "see", "brood", "seen", quote=quote)
    return replace(entry, start=words[at].start, end=words[at + len(parts) - 1].end, **more)


@pytest.mark.parametrize(
    ("sentences", "text"),
    [
        (["Attention logbook, open hive 7, four frames."], "Hive 7, four frames."),
        (["Four frames", "attention logbook hive 7.", "Two boxes."], "Four frames. Hive 7. Two boxes."),
        (["Two quarts, attention logbook, scratch that.", "Three quarts."], "Two quarts. Three quarts."),
        (["Brood, attention logbook mark this two boxes"], "Brood. two boxes"),
        (["Brood attention logbook note to self mend it.", "Six"], "Brood. mend it. Six"),
        (["No signal at all"], "No signal at all"),
    ],
)  # fmt: skip
def test_text_without_signals(sentences: list[str], text: str) -> None:
    plain = without_signals(heard(*sentences), WORDING)
    assert plain.text == text
    assert plain.text == " ".join(s.text for s in plain.segments)
    assert all(s.text == " ".join(w.word for w in s.words) for s in plain.segments)


def test_words_that_are_left_keep_their_times() -> None:
    whole = heard("Two quarts, attention logbook, scratch that.", "Three quarts.")
    plain = without_signals(whole, WORDING)
    times = {(w.start, w.end) for s in whole.segments for w in s.words}
    assert {(w.start, w.end) for s in plain.segments for w in s.words} <= times


def test_a_transcript_without_signals_stays_the_same_object() -> None:
    plain = heard("Four frames of brood.")
    assert without_signals(plain, WORDING) is plain


def test_doubts_about_the_signal_go_and_others_stay() -> None:
    whole = heard("Four frames, attention logbook mark this.")
    doubts = (Doubt(0.0, 0.3, "number", "Four", ()), Doubt(1.2, 1.5, "word", "mark", ()))
    assert without_signals(replace(whole, doubts=doubts), WORDING).doubts == doubts[:1]


def test_what_the_recorder_answered_is_no_talk_of_the_keeper() -> None:
    whole = heard("Four frames.", "hive seven two quarts", "Five seams.")
    answer = Signal("answer", 1.5, 2.85, 2.85, "hive seven, two quarts")
    assert (
        without_signals(replace(whole, signals=(answer,)), WORDING).text
        == "Four frames. Five seams."
    )


def test_scratch_that_takes_back_what_was_said_last() -> None:
    whole = heard(
        "Four frames.", "Hives two and three two quarts.", "Attention logbook scratch that.", "Six."
    )
    rows = (
        row(whole, "Four frames."),
        row(whole, "two quarts.", hive="2"),
        row(whole, "two quarts.", hive="3"),
        row(whole, "Six."),
    )
    done = with_effects(rows, whole)
    assert [r.flags for r in done] == [(), ("scratched",), ("scratched",), ()]


def test_scratch_that_twice_takes_back_two() -> None:
    twice = "Attention logbook scratch that."
    whole = heard("Four frames.", "Two quarts.", twice, twice)
    done = with_effects((row(whole, "Four frames."), row(whole, "Two quarts.")), whole)
    assert [r.flags for r in done] == [("scratched",), ("scratched",)]


def test_mark_this_flags_what_was_said_last_or_keeps_the_place() -> None:
    whole = heard("Four frames.", "Odd smell here.", "Attention logbook mark this.")
    (marked,) = with_effects((row(whole, "Four frames."),), whole)
    assert marked.flags == ("marked",)
    (alone,) = with_effects((), whole)
    assert (alone.kind, alone.item, alone.flags) == ("note", "mark", ("marked",))
    assert alone.quote == "Four frames. Odd smell here."


def test_note_to_self_is_a_note_of_the_hive_that_was_opened() -> None:
    whole = heard(
        "Attention logbook open hive 12.", "Attention logbook note to self mend the fence."
    )
    (note,) = with_effects((), whole, ("1", "12"))
    assert (note.hive, note.kind, note.quote, note.flags) == ("12", "note", "mend the fence.", ())


def test_a_note_that_gave_a_row_is_not_doubled() -> None:
    whole = heard("Attention logbook note to self bring two supers.")
    plan = row(whole, "bring two supers.", kind="supply", status="planned")
    assert with_effects((plan,), whole) == (plan,)


def test_signals_survive_their_json() -> None:
    whole = heard("Four frames.", "Attention logbook open hive 12.")
    assert transcript_from_json(transcript_to_json(whole)).signals == whole.signals


def test_an_open_hive_carries_over_a_cut_with_a_flag() -> None:
    second = heard("Four frames.", "Hive 8.", "Six frames.")
    carried = opened_before(second, "Hive 7.")
    assert carried.text == "Hive 7. Four frames. Hive 8. Six frames."
    alone = (row(second, "Four frames.", hive=None), row(second, "Six frames.", hive="8"))
    with_hive = (replace(alone[0], hive="7"), alone[1])
    assert [r.flags for r in flag_carried(alone, with_hive)] == [("hive-assumed",), ()]
