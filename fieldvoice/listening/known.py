"""Signals that were understood as they were spoken hold for the whole recording.

The whole is heard in long windows, which may miss one that the short ones had; the keeper was
told that it was understood, so it counts. Where the whole has a signal, the whole is right.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fieldvoice.listening.own import ANSWER
from fieldvoice.listening.wording import NAMES
from fieldvoice.types import Signal, Word

_NEAR = 0.5  # seconds by which the times of the same words may differ from hearing to hearing


def with_known(
    found: Sequence[Signal], known: Sequence[Signal], words: Sequence[Word]
) -> tuple[Signal, ...]:
    """The signals `found` in the whole, those `known` that it lacks, and the answers."""
    lacking = [
        _at_words(signal, words)
        for signal in known
        if signal.name in NAMES and not any(_meet(signal, other) for other in found)
    ]
    answers = [signal for signal in known if signal.name == ANSWER]
    return (*sorted((*found, *lacking), key=lambda signal: signal.start), *answers)


def _meet(one: Signal, other: Signal) -> bool:
    return one.start < other.end + _NEAR and other.start < one.end + _NEAR


def _at_words(signal: Signal, words: Sequence[Word]) -> Signal:
    """The signal with the times of the words that were heard in its place."""
    there = [w for w in words if signal.start <= (w.start + w.end) / 2 <= signal.end]
    if not there:
        return signal
    start, end = there[0].start, there[-1].end
    return replace(signal, start=start, end=end, until=max(end, signal.until))
