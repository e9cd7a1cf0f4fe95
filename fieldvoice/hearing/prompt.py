"""The text that stands before every window, as if it had just been said.

A style line teaches how numbers are written and does most of the good; the words that
follow help only themselves. Whisper keeps 223 tokens of it, but a prompt of more than
about 120 loops more than it helps.
"""

from __future__ import annotations

from collections.abc import Callable

from fieldvoice.hearing.vocabulary import Vocabulary

MAX_TOKENS = 120
MAX_LABELS = 12  # names beside plain numbers, which need no priming


def build_prompt(vocabulary: Vocabulary, count_tokens: Callable[[str], int]) -> str:
    """The style line, the labels that are not plain numbers, then words while they fit."""
    names = [label for label in vocabulary.labels if not label.isdigit()][:MAX_LABELS]
    cue = f"{vocabulary.cue.capitalize()} " if vocabulary.cue else ""
    lines = [vocabulary.style.strip()] if vocabulary.style.strip() else []
    for label in names:
        name = label if label[:1].isalpha() and " " in label else f"{cue}{label}"
        lines.append(f"{name}.")
    prompt = " ".join(lines)
    while lines and count_tokens(prompt) > MAX_TOKENS:
        lines.pop()
        prompt = " ".join(lines)
    chosen: list[str] = []
    for word in vocabulary.words:
        longer = f"{prompt} {', '.join([*chosen, word])}.".strip()
        if count_tokens(longer) > MAX_TOKENS:
            break
        chosen.append(word)
    return f"{prompt} {', '.join(chosen)}.".strip() if chosen else prompt
