"""What was said to the recorder itself: after its phrase, a short list is all there can be.

Beam search writes what English makes likely ("north to south"). Where words like the phrase
were heard, every order of the list is put after it and scored by the decoder on the sound,
with the words that follow; the best takes the place of what was heard if it fits about as
well. Which orders there are is data, and what they mean is not known here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.labels import Judge
from fieldvoice.hearing.vocabulary import Vocabulary
from fieldvoice.types import Doubt

CALL = 5  # words that the phrase may have been heard as
ORDER = 6  # words that an order may have been heard as
AFTER = 2  # words behind an order that must fit too
LIKE = 0.48  # how like the phrase the words must be, letter by letter, for the sound to be asked
PLAIN = 0.9  # how like, for the phrase to be taken as said
SHORTLIST = 4  # orders that are tried with the words behind them
LABELS = 2  # orders with a label that are tried too
# By how many nats what was heard may fit better:
AFTER_CALL = 14.0  # after a plain phrase: what else is said to a recorder?
LIKELY = 15.0  # phrase and order together; talk that is nearly a signal was 16 and more behind
AS_HEARD = 19.0  # the phrase, before two words or more that were heard as an order themselves


@dataclass(frozen=True, slots=True)
class Call:
    """Words [first, after) are the phrase, or like it."""

    first: int
    after: int
    like: float  # 0 to 1

    @property
    def plain(self) -> bool:
        """Whether it is taken as said; else the sound is asked about it too."""
        return self.like >= PLAIN


@dataclass(frozen=True, slots=True)
class Order:
    """The words that stand in the place of what was heard, and how well they fit."""

    words: tuple[Timed, ...]
    behind: float  # nats behind what was heard; below zero: before it


def calls(words: Sequence[Timed], vocabulary: Vocabulary) -> list[Call]:
    """Where words like the phrase were heard; of those that overlap, the one most like it."""
    found = [_call(words, first, vocabulary) for first in range(len(words))]
    kept: list[Call] = []
    for call in sorted(found, key=lambda call: -call.like):
        apart = all(call.after <= other.first or other.after <= call.first for other in kept)
        if call.like >= LIKE and apart:
            kept.append(call)
    return sorted(kept, key=lambda call: call.first)


def _call(words: Sequence[Timed], first: int, vocabulary: Vocabulary) -> Call:
    from rapidfuzz.fuzz import ratio

    runs = [
        Call(first, after, ratio(_letters(w.word for w in words[first:after]), _letters([phrase])) / 100)
        for after in range(first + 1, min(first + CALL, len(words)) + 1)
        for phrase in vocabulary.calls
    ]  # fmt: skip
    return max(runs, key=lambda call: (call.like, -call.after), default=Call(first, first, 0.0))


def _letters(words: Iterable[str]) -> str:
    return re.sub(r"[^a-z0-9]", "", "".join(words).lower())


def orders(
    words: Sequence[Timed], called: Sequence[Call], vocabulary: Vocabulary, judge: Judge
) -> list[Order]:
    """What was ordered after each call, if the sound speaks for it; none overlaps another."""
    found: list[Order] = []
    for call in called:
        if found and words[call.first].start < found[-1].words[-1].end:
            continue
        if call.plain and _is_order(words, call.after, vocabulary.orders):
            continue  # heard letter by letter
        best = weigh(words, call, vocabulary, judge)
        if best is not None and best.behind <= _allowed(words, call, vocabulary):
            found.append(best)
    return found


def _allowed(words: Sequence[Timed], call: Call, vocabulary: Vocabulary) -> float:
    """How far behind what was heard an order may be after this call."""
    if call.plain:
        return AFTER_CALL
    long = [order for order in vocabulary.orders if " " in order]
    return AS_HEARD if _is_order(words, call.after, long) else LIKELY


def _is_order(words: Sequence[Timed], after: int, orders: Sequence[str]) -> bool:
    meant = {_letters([order]) for order in orders}
    return any(
        _letters(w.word for w in words[after:last]) in meant
        for last in range(after + 1, min(after + ORDER, len(words)) + 1)
    )


def weigh(words: Sequence[Timed], call: Call, vocabulary: Vocabulary, judge: Judge) -> Order | None:
    """The order that fits best after a call; None: nothing was heard after it.

    An order of one word is too short to be told by its sound: it must have been heard, or
    have a label of the register behind it. No number is taken for a part of one: it is what
    the order is about.
    """
    if call.after == len(words):
        return None
    tried = list(_tried(words, call, vocabulary, judge))
    if not tried:
        return None
    behind, order, last = min(tried)
    return Order(
        (
            *_spread(_phrase(vocabulary).split(), words[call.first : call.after]),
            *_spread((order + _sign(words[last - 1])).split(), words[call.after : last]),
        ),
        behind,
    )


def _tried(
    words: Sequence[Timed], call: Call, vocabulary: Vocabulary, judge: Judge
) -> Iterator[tuple[float, str, int]]:
    """How far behind what was heard each likely order is, in the place of the words up to one."""
    from_ = call.after if call.plain else call.first
    at = judge.lead + sum(len(w.tokens) for w in words[:from_])
    written = _written(words, call, vocabulary)
    scores = dict(zip(written, judge.rank(at, list(written.values())), strict=True))
    best = sorted(scores, key=lambda order: -scores[order])
    short = [o for o in best if o in vocabulary.orders][:SHORTLIST]
    short += [o for o in best if o not in vocabulary.orders][:LABELS]
    for last in range(call.after + 1, min(call.after + ORDER, len(words)) + 1):
        heard = " ".join(w.word for w in words[from_:last])
        texts = [heard, *(written[order] + _sign(words[last - 1]) for order in short)]
        rest = " ".join(w.word for w in words[last : last + AFTER])
        as_heard, *others = judge.weigh(at, texts, rest)
        number = _has_number(w.word for w in words[call.after : last])
        for order, score in zip(short, others, strict=True):
            if not number or _has_number([order]):
                yield as_heard - score, order, last


def _written(words: Sequence[Timed], call: Call, vocabulary: Vocabulary) -> dict[str, str]:
    """All that may have been ordered, as it would stand after the call, or with it.

    "Hive" is followed by a label of the register; both together are long enough to be told.
    """
    heard = _letters([words[call.after].word])
    said = [order for order in vocabulary.orders if " " in order or _letters([order]) == heard]
    if not call.plain:
        return {order: f"{_phrase(vocabulary)} {order}" for order in said}
    opens = words[call.after - 1].word[-1:] in ".!?"
    labels = [label for label in vocabulary.labels if " " not in label]
    before = [order for order in vocabulary.orders if order.split()[-1] == vocabulary.cue]
    said += [f"{order} {label}" for order in before for label in labels]
    return {order: order.capitalize() if opens else order for order in said}


def _phrase(vocabulary: Vocabulary) -> str:
    return f"{vocabulary.calls[0].capitalize()},"


def _has_number(words: Iterable[str]) -> bool:
    return any(sign.isdigit() for word in words for sign in word)


def _sign(word: Timed) -> str:
    """The sign of a clause's end that stands after the word."""
    return word.word[-1] if word.word[-1:] in ".,;:?!" else ""


def _spread(texts: Sequence[str], heard: Sequence[Timed]) -> Iterator[Timed]:
    """The words of `texts` in the time of those heard, each as long as its letters."""
    start, seconds = heard[0].start, heard[-1].end - heard[0].start
    sure = min(w.probability for w in heard)
    total, at = sum(map(len, texts)), 0
    for text in texts:
        begins, at = at, at + len(text)
        yield Timed(text, start + seconds * begins / total, start + seconds * at / total, sure)


def put_orders(
    words: Sequence[Timed], doubts: Sequence[Doubt], ordered: Sequence[Order]
) -> tuple[list[Timed], list[Doubt]]:
    """The words with the orders in their places; doubts about what stood there are gone."""
    kept, open_ = list(words), list(doubts)
    for order in ordered:
        start, end = order.words[0].start, order.words[-1].end
        kept = [w for w in kept if not start <= (w.start + w.end) / 2 <= end]
        open_ = [d for d in open_ if not start <= (d.start + d.end) / 2 <= end]
        at = sum(w.start < start for w in kept)
        kept[at:at] = order.words
    return kept, open_
