"""Put the labels that the sound speaks for into the heard words, and note every doubt."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.labels import Candidate, Choice
from fieldvoice.hearing.sites import bare, can_be_label, ends_clause
from fieldvoice.types import Doubt, Reading

SURE = 2.0  # nats; most wrong labels lead by less, most right ones by 5 and more
SURE_BOTH = 4.0  # the same where the nats of two models are added
# By how many nats a label must beat the words as heard, where those are no label:
AFTER_CUE = -4.0  # after "hive", before a number: a label of the register it must be
LIKELY_CUE = -6.0  # "high 8", "new 3": hardly anybody says that
GLUED = -2.0  # 56 for "hive 6": such numbers are said too
GLUED_LONG = -12.0  # 538 for "hive 38": whoever says five hundred and thirty-eight, and of what
INTRUSION = 1.0  # anywhere else


def relabel(words: Sequence[Timed], choices: Sequence[Choice]) -> tuple[list[Timed], list[Doubt]]:
    """The words with the best label at each site, and a doubt wherever the lead is small.

    Where the heard words are a better account of the sound than any label, they stay.
    Times are seconds of the window.
    """
    out = list(words)
    doubts = []
    for choice in reversed(choices):  # from the end, so that earlier places stay true
        taken = _taken(words, choice)
        now = words[choice.first : choice.last]
        if taken is not None:
            now = _as_words(words, choice, taken)
            out[choice.first : choice.last] = now
        if _unsure(words, choice, taken):
            doubts.append(_doubt(choice, now))
    return out, doubts[::-1]


def _doubt(choice: Choice, now: Sequence[Timed]) -> Doubt:
    """The words that stand there now, and what else they may be, the best first."""
    readings = tuple(
        Reading(c.text if c.label is None else c.label, round(c.score, 2))
        for c in choice.candidates[:4]
    )
    heard = " ".join(w.word for w in now)
    return Doubt(now[0].start, now[-1].end, "label", heard, readings)


def _taken(words: Sequence[Timed], choice: Choice) -> Candidate | None:
    """The label reading to put in; None: leave the words as they are."""
    best = next((r for r in choice.candidates if r.label is not None), None)
    heard = next((r for r in choice.candidates if r.label is None), None)
    if best is None or heard is None or choice.said == best.label:
        return best  # "high 31" is hive 31 if no other label fits better
    return best if best.score > heard.score + _hurdle(words, choice) else None


def _hurdle(words: Sequence[Timed], choice: Choice) -> float:
    """By how much a label must beat words that are no label of the register."""
    after = words[choice.first + 1 : choice.last]
    best = next((c.label for c in choice.candidates if c.label is not None), None)
    if choice.theirs is not None and choice.theirs == best:
        return AFTER_CUE - choice.rather  # another model heard that label there
    if choice.site.glued:
        if choice.site.certain:
            return AFTER_CUE
        return GLUED_LONG if len(bare(words[choice.first].word)) > 2 else GLUED
    if after and can_be_label(after[0].word):
        return AFTER_CUE if choice.site.certain else LIKELY_CUE
    return INTRUSION


def _unsure(words: Sequence[Timed], choice: Choice, taken: Candidate | None) -> bool:
    """Whether another label, or the words as heard, come within a small margin."""
    heard = next((c for c in choice.candidates if c.label is None), None)
    labels = [r for r in choice.candidates if r.label is not None]
    if not labels:
        return False
    if choice.spelt:
        return True
    if taken is None:
        hurdle = _hurdle(words, choice)
        return choice.expected or (
            heard is not None and heard.score - labels[0].score < SURE - min(hurdle, 0.0)
        )
    second = labels[1].score if len(labels) > 1 else -math.inf
    if choice.lead is not None:
        if choice.lead < SURE_BOTH:
            return True
    elif taken.score - second < SURE:
        return True
    if heard is None or choice.said == taken.label:  # "high 31" is no other label than 31
        return False
    return taken.score - heard.score < SURE


def _as_words(words: Sequence[Timed], choice: Choice, taken: Candidate) -> list[Timed]:
    """The reading's words in the time of the words they replace."""
    old = words[choice.first : choice.last]
    texts = taken.text.split()
    sign = old[-1].word[-1] if ends_clause(old[-1].word) and not ends_clause(texts[-1]) else ""
    texts[-1] += sign
    total = sum(math.exp(r.score - choice.candidates[0].score) for r in choice.candidates)
    probability = math.exp(taken.score - choice.candidates[0].score) / total
    start, end = old[0].start, old[-1].end
    bounds = [w.start for w in old] + [end]
    if len(texts) != len(old):  # share the time out by letters
        share = [sum(map(len, texts[:i])) / sum(map(len, texts)) for i in range(len(texts) + 1)]
        bounds = [start + (end - start) * s for s in share]
    return [
        replace(
            old[min(i, len(old) - 1)],
            word=text, start=bounds[i], end=bounds[i + 1],
            probability=old[0].probability if i == 0 else min(1.0, probability), tokens=(),
        )
        for i, text in enumerate(texts)
    ]  # fmt: skip
