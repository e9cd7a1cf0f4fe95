"""What signals do: their words leave the text, and the rows they speak of are changed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.listening.own import own_words
from fieldvoice.listening.wording import Wording
from fieldvoice.types import Doubt, Entry, Segment, Signal, Stretch, Transcript, Word

SCRATCHED = "scratched"
"""Flag of a row that the keeper took back aloud."""
MARKED = "marked"
"""Flag of a row that the keeper marked aloud."""

_ROUNDED = 0.001  # seconds; times are kept to the millisecond
_BEFORE = 12  # words that tell what was marked where no row was drafted
_STOPS = (".", "!", "?")


def without_signals(transcript: Transcript, wording: Wording) -> Transcript:
    """The transcript as extraction is to read it.

    The words of signals are gone, or what `write` says stands in their place; so is what the
    recorder itself answered. What stood on both sides is parted by a full stop. A transcript
    without any is given back as it is.
    """
    if not transcript.signals:
        return transcript
    kept = _kept(transcript, wording)
    segments = [
        Segment(s.start, s.end, " ".join(w.word.strip() for w in words), tuple(words))
        for number, s in enumerate(transcript.segments)
        if (words := [word for of, word in kept if of == number])
    ]
    return replace(
        transcript,
        text=" ".join(s.text for s in segments),
        segments=tuple(segments),
        doubts=tuple(
            d for d in transcript.doubts if not any(_inside(d, s) for s in transcript.signals)
        ),
        signals=(),
    )


def _inside(what: Word | Doubt, where: Stretch | Signal) -> bool:
    return what.start >= where.start - _ROUNDED and what.end <= where.end + _ROUNDED


_Placed = tuple[int, Word]  # number of its segment, word


def _kept(transcript: Transcript, wording: Wording) -> list[_Placed]:
    out: list[_Placed] = []
    written: set[Signal] = set()
    own = own_words(_words(transcript), transcript.signals)
    given = [s for s in transcript.signals if s.name in wording.signals]
    for number, segment in enumerate(transcript.segments):
        for word in segment.words:
            signal = next((s for s in given if _inside(word, s)), None)
            if word in own:
                _stop(out)
            elif signal is None:
                if out and any(_closes(out[-1][1], word, s) for s in given):
                    _stop(out, commas=True)
                out.append((number, word))
            elif signal not in written:
                written.add(signal)
                _stop(out)
                write = wording.signals[signal.name].write
                if write:
                    out.append((number, Word(write, signal.start, signal.end, 1.0)))
    return out


def _closes(before: Word, word: Word, signal: Signal) -> bool:
    """Whether the words that belong to a signal end between two words."""
    return before.end <= signal.until + _ROUNDED < word.end and before.end > signal.end


def _stop(words: list[_Placed], *, commas: bool = False) -> None:
    """The sentence ends here, whatever the recogniser thought; `commas`: one will do."""
    if not words:
        return
    number, last = words[-1]
    text = last.word.rstrip()
    if not text.endswith((*_STOPS, ",") if commas else _STOPS):
        words[-1] = (number, replace(last, word=text.rstrip(",;:") + "."))


def with_effects(
    entries: Sequence[Entry], transcript: Transcript, labels: Sequence[str] = ()
) -> tuple[Entry, ...]:
    """The drafts with what the signals of `transcript` do to them; `labels` are the register's.

    Scratch that: the rows said last are flagged `scratched`. Mark this: they are flagged
    `marked`; where there are none, a note row keeps the place. Note to self: what was said
    after it is a note row, unless drafts came of the same words.
    """
    rows = list(entries)
    for signal in transcript.signals:
        if signal.name == "scratch":
            _flag(rows, signal, SCRATCHED)
        elif signal.name == "mark" and not _flag(rows, signal, MARKED):
            words = _words_before(transcript, signal)
            rows.append(_note(signal, words, _subject(rows, transcript, signal, labels)))
        elif signal.name == "note" and signal.rest and not _covered(rows, signal):
            said = [w for w in _words(transcript) if _inside(w, Stretch(signal.end, signal.until))]
            rows.append(_note(signal, said, _subject(rows, transcript, signal, labels)))
    return tuple(sorted(rows, key=lambda row: row.start if row.start is not None else 0.0))


def _words(transcript: Transcript) -> list[Word]:
    return [word for segment in transcript.segments for word in segment.words]


def _flag(rows: list[Entry], signal: Signal, flag: str) -> bool:
    """Flag the rows of the last thing said before the signal; False if there is none."""
    said = [
        row
        for row in rows
        if row.start is not None and row.start < signal.start and SCRATCHED not in row.flags
    ]
    if not said:
        return False
    last = max(said, key=lambda row: (row.end or 0.0, row.start or 0.0))
    for n, row in enumerate(rows):
        # One sentence about three hives is one thing said: the rows stand or fall together.
        same = (row.start, row.end, row.kind, row.item) == (
            last.start, last.end, last.kind, last.item,
        )  # fmt: skip
        if same and SCRATCHED not in row.flags and flag not in row.flags:
            rows[n] = replace(row, flags=(*row.flags, flag))
    return True


def _covered(rows: Sequence[Entry], signal: Signal) -> bool:
    return any(
        row.start is not None
        and row.end is not None
        and row.start < signal.until
        and row.end > signal.end + _ROUNDED
        for row in rows
    )


def _words_before(transcript: Transcript, signal: Signal) -> list[Word]:
    return [w for w in _words(transcript) if w.end <= signal.start + _ROUNDED][-_BEFORE:]


def _subject(
    rows: Sequence[Entry], transcript: Transcript, signal: Signal, labels: Sequence[str]
) -> tuple[str | None, bool]:
    """What was spoken of when a signal was given, and whether that was said by a signal."""
    before = [r for r in rows if r.start is not None and r.start < signal.start and r.hive]
    row = max(before, key=lambda r: r.start or 0.0, default=None)
    opened = [s for s in transcript.signals if s.name == "open" and s.end <= signal.start]
    label = _label(opened[-1].rest, labels) if opened else None
    if label is not None and (
        row is None or row.hive == label or opened[-1].start > (row.start or 0.0)
    ):
        return label, True
    return (row.hive, False) if row is not None else (None, False)


def _label(rest: str, labels: Sequence[str]) -> str | None:
    """The label of the register that the words after "open" begin with.

    >>> _label("12, four frames", ("1", "12"))
    '12'
    """
    said = f"{re.sub(r'[^a-z0-9 ]', '', rest.lower())} "
    fits = [label for label in labels if said.startswith(f"{label.lower()} ")]
    return max(fits, key=len, default=None)


def _note(signal: Signal, words: Sequence[Word], subject: tuple[str | None, bool]) -> Entry:
    """A note row with those words, on the hive that was spoken of."""
    hive, named = subject
    flags = ("hive-assumed",) if hive and not named else ()
    return Entry(
        hive=hive,
        kind="note",
        action="see",
        item="note" if signal.name == "note" else "mark",
        status="seen",
        quote=" ".join(w.word.strip() for w in words),
        start=words[0].start if words else signal.start,
        end=words[-1].end if words else signal.end,
        confidence=min((w.probability for w in words), default=0.5),
        flags=(*flags, MARKED) if signal.name == "mark" else flags,
    )
