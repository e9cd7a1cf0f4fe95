"""The recorder's own voice, heard by its own microphone: words that are nobody's.

Only words that read like the answer are taken out; a keeper who talks into it stays.
"""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.listening.signals import likeness
from fieldvoice.types import Signal, Word

ANSWER = "answer"
"""Name of what the recorder itself said, among the signals of a recording."""

_LIKE = 0.6  # how like the answer a run of words must be, 0 to 1


def own_words(words: Sequence[Word], answers: Sequence[Signal]) -> frozenset[Word]:
    """Those of `words` that are the recorder's own answers."""
    own: set[Word] = set()
    for answer in answers:
        if answer.name == ANSWER and answer.said:
            during = [w for w in words if answer.start <= (w.start + w.end) / 2 <= answer.end]
            own.update(_likest_run(during, answer.said))
    return frozenset(own)


def _likest_run(words: Sequence[Word], said: str) -> Sequence[Word]:
    runs = [
        words[first:last]
        for first in range(len(words))
        for last in range(first + 1, len(words) + 1)
    ]
    scored = [(likeness("".join(w.word for w in run), said), run) for run in runs]
    best = max(scored, key=lambda s: s[0], default=(0.0, ()))
    return best[1] if best[0] >= _LIKE else ()
