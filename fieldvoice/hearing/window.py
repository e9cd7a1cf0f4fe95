"""One window through the recogniser: prompt, guards, further tries, word times.

A prompted window can loop or print its prompt; decoded again without it, and then with
a ban on repeats, most come right. But a yard is repetitive ("four frames of brood" hive
after hive), and so a text that only looks like a loop is kept if it comes out the same
with and without the prompt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Any, TypeVar

from fieldvoice.hearing.alike import weigh_alike, worth_weighing
from fieldvoice.hearing.beside import beside, to_ask
from fieldvoice.hearing.decode import RATE
from fieldvoice.hearing.engines import Adviser, Decoded, Engine, Opinion, Timed
from fieldvoice.hearing.guards import Verdict, squeeze, words_of
from fieldvoice.hearing.guards import judge as judge_text
from fieldvoice.hearing.judges import Judges
from fieldvoice.hearing.labels import choose
from fieldvoice.hearing.orders import Order, calls, orders, put_orders
from fieldvoice.hearing.pieces import join_pieces
from fieldvoice.hearing.prompt import build_prompt
from fieldvoice.hearing.relabel import relabel
from fieldvoice.hearing.second import any_matters, disagreements, names_another
from fieldvoice.hearing.sites import sites
from fieldvoice.hearing.store import Heard
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.hearing.windows import Piece, Window
from fieldvoice.types import Doubt, Stretch

T = TypeVar("T", Timed, Doubt)

NO_REPEAT = 6  # tokens in a row that may not come twice in the last try
PUBLISHED_SQUEEZE = 2.4  # Whisper's own limit; between ours and this a loop is only likely
SAME = 0.85  # share of words in which two readings must agree


@dataclass(frozen=True, slots=True)
class Ear:
    """All that shapes how a window is heard."""

    engine: Engine
    vocabulary: Vocabulary
    prompt: str
    judges: Judges | None  # None: there is nothing to weigh
    second: Adviser | None  # another model, asked where it matters; None: nobody is


def open_ear(engine: Engine, vocabulary: Vocabulary, second: Adviser | None) -> Ear:
    """Make one engine, and a second for doubts, ready for the words of one yard."""
    prompt = build_prompt(vocabulary, lambda text: len(engine.tokens(text)))
    judges = Judges(engine, prompt) if vocabulary.labels or vocabulary.calls else None
    return Ear(engine, vocabulary, prompt, judges, second)


def hear_window(ear: Ear, window: Window) -> Heard:
    """Decode `window`; what no try makes trustworthy gives no words."""
    encoded = ear.engine.encode(window.sound)
    alone = len(window.pieces) == 1
    decoded = _decode(ear.engine, encoded, window.seconds, ear.prompt, alone=alone)
    if decoded is not None:
        words = ear.engine.align(encoded, decoded.tokens, window.seconds)
        return _settle(ear, window, encoded, words)
    if alone:
        return Heard(trusted=False)
    return _piecewise(ear, window)


def _settle(ear: Ear, window: Window, encoded: Any, words: list[Timed]) -> Heard:
    """Put the register's labels in, note the doubts, and round times to what is kept."""
    doubts: list[Doubt] = []
    weighed = [
        Stretch(words[site.first].start, words[site.last - 1].end)
        for site in sites(words, ear.vocabulary)
    ]
    called = calls(words, ear.vocabulary)
    ordered: list[Order] = []
    opinion = _second_opinion(ear, window, words)
    if ear.judges is not None and (weighed or called or _any_alike(words, ear.vocabulary, opinion)):
        judge = ear.judges.judge(encoded, words)
        ordered = orders(words, called, ear.vocabulary, judge)
        theirs = beside(words, opinion) if opinion else None
        words, doubts = weigh_alike(words, judge, ear.vocabulary, weighed, theirs)
        words, unsure = relabel(words, choose(words, ear.vocabulary, judge, theirs))
        doubts += unsure
    words, joined = join_pieces(words, ear.vocabulary)
    doubts += joined
    words, doubts = put_orders(words, doubts, ordered)
    other = opinion.decoded.text if opinion else None
    for doubt in disagreements(words, other, ear.vocabulary) if other is not None else ():
        label = _overlaps(doubt, weighed)
        if not _overlaps(doubt, doubts) and (not label or names_another(doubt, ear.vocabulary)):
            doubts.append(replace(doubt, kind="label") if label else doubt)
    doubts.sort(key=lambda doubt: doubt.start)
    return Heard(tuple(_shifted(w, 0.0) for w in words), tuple(_shifted(d, 0.0) for d in doubts))


def _any_alike(words: Sequence[Timed], vocabulary: Vocabulary, opinion: Opinion | None) -> bool:
    both = opinion is not None
    return any(worth_weighing(words, at, vocabulary, both=both) for at in range(len(words)))


def _second_opinion(ear: Ear, window: Window, words: list[Timed]) -> Opinion | None:
    """What the second model hears, greedily and quickly, where numbers, units or "not" are."""
    if ear.second is None or not any_matters([w.word for w in words], ear.vocabulary):
        return None
    encoded = ear.second.encode(window.sound, short=True)
    opinion = ear.second.opine(encoded, ear.prompt, to_ask(words, ear.vocabulary.labels))
    if not judge_text(opinion.decoded, window.seconds, ear.prompt).ok:
        return None  # it has lost the thread: its opinion is worth nothing
    return opinion


def _overlaps(doubt: Doubt, others: Sequence[Doubt | Stretch]) -> bool:
    return any(d.start < doubt.end and doubt.start < d.end for d in others)


def _shifted(what: T, seconds: float) -> T:
    """Its times later by `seconds`, to the millisecond."""
    return replace(what, start=round(what.start + seconds, 3), end=round(what.end + seconds, 3))


def _decode(
    engine: Engine, encoded: Any, seconds: float, prompt: str, *, alone: bool
) -> Decoded | None:
    """The first reading that no guard objects to, or None."""

    def judged(decoded: Decoded) -> Verdict:
        return judge_text(decoded, seconds, prompt, alone=alone)

    first = engine.generate(encoded, prompt)
    verdict = judged(first)
    if verdict.ok:
        return first
    if prompt:
        second = engine.generate(encoded, "")
        if judged(second).ok:
            return second
    else:
        second = first
    if judged(second).reasons == ("loop",) == verdict.reasons and _repetitive(first, second):
        return first
    last = engine.generate(encoded, "", no_repeat=NO_REPEAT)
    return last if judged(last).ok else None


def _repetitive(first: Decoded, second: Decoded) -> bool:
    """Whether it was the speaker who repeated: both readings say the same, within reason."""
    if squeeze(first.text) > PUBLISHED_SQUEEZE:
        return False
    alike = SequenceMatcher(None, words_of(first.text), words_of(second.text), autojunk=False)
    return alike.ratio() >= SAME


def _piecewise(ear: Ear, window: Window) -> Heard:
    """Every stretch of a window on its own: one bad stretch does not cost the others."""
    words: list[Timed] = []
    doubts: list[Doubt] = []
    trusted = True
    for piece in window.pieces:
        sound = window.sound[piece.offset : piece.offset + piece.length]
        alone = Window(sound, (Piece(piece.start, 0, piece.length, piece.voice),))
        heard = hear_window(ear, alone)
        words += [_shifted(w, piece.offset / RATE) for w in heard.words]
        doubts += [_shifted(d, piece.offset / RATE) for d in heard.doubts]
        trusted = trusted and heard.trusted
    return Heard(tuple(words), tuple(doubts), trusted)
