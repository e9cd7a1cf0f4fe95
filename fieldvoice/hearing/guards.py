"""Signs that a decoded window is not what was said: loops, leaks, impossible rates.

The limits are those of the published Whisper recipe where it has one (compression
ratio 2.4, no-speech 0.6), tightened on measurements: in short windows a loop already
shows at 1.9, and nobody speaks more than nine tokens a second. The recipe, too, believes a
text that the model is sure of whatever it says of speech; from wind, hum and hiss it was never
surer than -0.46 (160 windows, base and yard), of sentences it is mostly surer than -0.3.
"""

from __future__ import annotations

import re
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldvoice.hearing.engines import Decoded

MAX_SQUEEZE = 1.9  # bytes of the text / bytes after zlib
MAX_RATE = 9.0  # tokens a second
MAX_NO_SPEECH = 0.6  # Whisper's own probability that nobody speaks
SURE = -0.4  # mean log-probability of a token from which on it is speech all the same
LEAK_WORDS = 4  # words in a row, all the prompt's and in its order


@dataclass(frozen=True, slots=True)
class Verdict:
    """Why a text is not to be trusted; empty: it is."""

    reasons: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """Nothing was found against the text."""
        return not self.reasons


def squeeze(text: str) -> float:
    """How far zlib shrinks `text`; loops shrink a lot."""
    raw = text.encode()
    return len(raw) / len(zlib.compress(raw)) if raw else 0.0


def words_of(text: str) -> list[str]:
    """Lower-case words and numbers, without punctuation."""
    return re.findall(r"[a-z0-9']+", text.lower())


def leaks(text: str, prompt: str) -> bool:
    """Whether most of `text` is a run of the prompt's words in the prompt's order."""
    said, given = words_of(text), " ".join(words_of(prompt))
    if len(said) < LEAK_WORDS:
        return False
    run = sum(
        f" {' '.join(said[i : i + LEAK_WORDS])} " in f" {given} "
        for i in range(len(said) - LEAK_WORDS + 1)
    )
    return run + LEAK_WORDS - 1 > len(said) / 2 if run else False


def judge(decoded: Decoded, seconds: float, prompt: str, *, alone: bool = False) -> Verdict:
    """Look for every sign at once; `seconds` is the length of the window.

    `alone`: it is one stretch of speech. A text that the model is sure of then outweighs its
    doubt whether anybody speaks; in a longer window the doubt may be for a part left out.
    """
    reasons = []
    if squeeze(decoded.text) > MAX_SQUEEZE:
        reasons.append("loop")
    if len(decoded.tokens) > MAX_RATE * max(seconds, 1.0):
        reasons.append("rate")
    if decoded.no_speech > MAX_NO_SPEECH and not (alone and decoded.logprob > SURE):
        reasons.append("no speech")
    if prompt and leaks(decoded.text, prompt):
        reasons.append("leak")
    return Verdict(tuple(reasons))
