"""Which hive each fact is about, with the whole round in view.

The model scores every fact by itself. A keeper does not jump between hives, so the best
sequence is taken: to change the hive costs something unless the new one has just been
named. Facts about the yard leave the hive as it was.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fieldvoice.extraction.candidates import Candidates
    from fieldvoice.extraction.encoder import Array
    from fieldvoice.extraction.labels import Mention

Key = (
    tuple[str, ...] | None
)  # labels, ("*", n) for the group word that is mention n, None for the yard
ALL: Key = ("*", "all")  # all hives, whether in a word of its own or understood
SWITCH = 2.5  # nats for a hive that was not just named
LEAST = 0.01  # probability below which a hive is not considered
BEAM = 16


def hive_sequence(
    candidates: Candidates, anchors: Sequence[int], scores: Array, of_yard: Sequence[bool]
) -> list[tuple[Key, float]]:
    """Per fact its hive key and the probability that the model gave it."""
    states: dict[Key, tuple[float, list[tuple[Key, float]]]] = {None: (0.0, [])}
    for n, anchor in enumerate(anchors):
        options = {None: 1.0} if of_yard[n] else _options(candidates, scores[n])
        named = _named(candidates, anchors[n - 1] if n else -1, anchor)
        new: dict[Key, tuple[float, list[tuple[Key, float]]]] = {}
        for here, (score, path) in states.items():
            for key, p in options.items():
                cost = SWITCH if key not in (None, ALL, here) and key not in named else 0.0
                total = score + math.log(p) - cost
                after = here if key in (None, ALL) else key
                if after not in new or total > new[after][0]:
                    new[after] = (total, [*path, (key, p)])
        states = dict(sorted(new.items(), key=lambda s: -s[1][0])[:BEAM])
    return max(states.values(), key=lambda s: s[0])[1]


def key_of(number: int, mention: Mention) -> Key:
    """What a mention is counted under."""
    if mention.how == "all":
        return ALL
    return tuple(sorted(mention.labels)) if mention.labels else ("*", str(number))


def _options(candidates: Candidates, scores: Array) -> dict[Key, float]:
    """Probability per hive key; mentions of the same hives share theirs."""
    total: dict[Key, float] = {None: float(scores[-2]), ALL: float(scores[-1])}
    for i, mention in enumerate(candidates.mentions):
        key = key_of(i, mention)
        total[key] = total.get(key, 0.0) + float(scores[i])
    likely = {key: p for key, p in total.items() if p >= LEAST}
    return likely or {max(total, key=lambda k: total[k]): max(total.values())}


def _named(candidates: Candidates, last: int, anchor: int) -> set[Key]:
    """Keys of the mentions since the last fact, to the end of this fact's sentence."""
    tokens = candidates.document.tokens
    sentence = tokens[anchor].sentence
    out: set[Key] = set()
    for i, mention in enumerate(candidates.mentions):
        if last < mention.first and tokens[mention.first].sentence <= sentence:
            out.add(key_of(i, mention))
    return out
