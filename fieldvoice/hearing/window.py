"""One window through the recogniser: prompt, guards, further tries, word times.

A prompted window can loop or print its prompt; decoded again without it, and then with
a ban on repeats, most come right. But a yard is repetitive ("four frames of brood" hive
after hive), and so a text that only looks like a loop is kept if it comes out the same
with and without the prompt.
"""

from __future__ import annotations

from dataclasses import replace
from difflib import SequenceMatcher
from typing import Any

from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.engines import Decoded, Engine
from fieldvoice.hearing.guards import judge, squeeze, words_of
from fieldvoice.hearing.store import Heard
from fieldvoice.hearing.windows import Piece, Window

NO_REPEAT = 6  # tokens in a row that may not come twice in the last try
PUBLISHED_SQUEEZE = 2.4  # Whisper's own limit; between ours and this a loop is only likely
SAME = 0.85  # share of words in which two readings must agree


def hear_window(engine: Engine, window: Window, prompt: str) -> Heard:
    """Decode `window`; what no try makes trustworthy gives no words."""
    encoded = engine.encode(window.sound)
    decoded = _decode(engine, encoded, window.seconds, prompt)
    if decoded is not None:
        words = engine.align(encoded, decoded.tokens, window.seconds)
        return Heard(tuple(replace(w, start=round(w.start, 3), end=round(w.end, 3)) for w in words))
    if len(window.pieces) == 1:
        return Heard((), trusted=False)
    return _piecewise(engine, window, prompt)


def _decode(engine: Engine, encoded: Any, seconds: float, prompt: str) -> Decoded | None:
    """The first reading that no guard objects to, or None."""
    first = engine.generate(encoded, prompt)
    verdict = judge(first, seconds, prompt)
    if verdict.ok:
        return first
    if prompt:
        second = engine.generate(encoded, "")
        if judge(second, seconds, prompt).ok:
            return second
    else:
        second = first
    if judge(second, seconds, prompt).reasons == ("loop",) == verdict.reasons and _repetitive(
        first, second
    ):
        return first
    last = engine.generate(encoded, "", no_repeat=NO_REPEAT)
    return last if judge(last, seconds, prompt).ok else None


def _repetitive(first: Decoded, second: Decoded) -> bool:
    """Whether it was the speaker who repeated: both readings say the same, within reason."""
    if squeeze(first.text) > PUBLISHED_SQUEEZE:
        return False
    alike = SequenceMatcher(None, words_of(first.text), words_of(second.text), autojunk=False)
    return alike.ratio() >= SAME


def _piecewise(engine: Engine, window: Window, prompt: str) -> Heard:
    """Every stretch of a window on its own: one bad stretch does not cost the others."""
    words = []
    trusted = True
    for piece in window.pieces:
        sound = window.sound[piece.offset : piece.offset + piece.length]
        alone = Window(sound, (Piece(piece.start, 0, piece.length, piece.voice),))
        heard = hear_window(engine, alone, prompt)
        offset = piece.offset / RATE
        words += [
            replace(w, start=round(w.start + offset, 3), end=round(w.end + offset, 3))
            for w in heard.words
        ]
        trusted = trusted and heard.trusted
    return Heard(tuple(words), trusted)
