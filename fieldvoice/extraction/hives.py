"""Which hives a mention means, once the whole narration is known."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.labels import Mention
from fieldvoice.types import Register

COUNTS = {"two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}


def resolve(
    mention: Mention, named: Sequence[str], words: Sequence[str], register: Register
) -> tuple[str, ...]:
    """Labels of a mention; `named` are the hives opened before it, in order, `words` its own.

    "both" are the last two hives, "the rest" those of the register not yet named, "the
    next one" follows the last in the register; "all" stays "all".
    """
    if mention.labels:
        return mention.labels
    seen = list(dict.fromkeys(reversed(named)))
    if mention.how == "all":
        return ("all",)
    if mention.how == "both":
        return tuple(reversed(seen[:2]))
    if mention.how == "counted":
        count = next((COUNTS[w] for w in words if w in COUNTS), len(seen))
        return ("all",) if count == len(register.labels) else tuple(reversed(seen[:count]))
    if mention.how == "rest":
        return tuple(label for label in register.labels if label not in named)
    if mention.how == "next" and seen and seen[0] in register.labels:
        at = register.labels.index(seen[0]) + 1
        return register.labels[at : at + 1]
    return ()
