"""Candidates and the model's reading become facts: one per thing done, seen, missed, planned.

The model scores; this module decides, within what the contract allows: kinds go with
certain actions, actions with certain statuses, weather is about no hive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from fieldvoice.extraction.conflicts import mark_conflicts
from fieldvoice.extraction.context import ALL, hive_sequence, key_of
from fieldvoice.extraction.corrections import correct_numbers
from fieldvoice.extraction.labels import Mention
from fieldvoice.extraction.repeats import merge_repeats
from fieldvoice.extraction.sames import take_over
from fieldvoice.extraction.things import singular
from fieldvoice.extraction.turning import turned
from fieldvoice.trade.load import trade_file
from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES

if TYPE_CHECKING:
    from fieldvoice.extraction.candidates import Candidates, Day
    from fieldvoice.extraction.context import Key
    from fieldvoice.extraction.encoder import Array, FactModel, Reading
    from fieldvoice.extraction.things import Thing


NO_FACT = 0.5  # a number belongs to no fact only if that is twice as likely as to one
NO_MEASURE = 0.08  # the same for a measure, among the facts of its own sentence
LITERAL = 0.3  # below this probability of a word of its own the named thing is taken


@dataclass(frozen=True, slots=True)
class Owned:
    """A number that belongs to a fact."""

    number: int  # index into candidates.quantities
    role: str
    unit_class: str  # the model's unit, for numbers that were said without one
    sure: float  # probability that it belongs here with this role


@dataclass(frozen=True, slots=True)
class Fact:
    """A statement as understood, before it is written as a row."""

    anchor: int  # token
    kind: str
    action: str
    status: str
    item: str
    mention: Mention | None
    day: Day | None
    numbers: tuple[Owned, ...]
    sure: dict[str, float]  # probability per field, and "anchor"
    corrected: bool = False  # a number of it was taken back and said again
    recap: str = ""  # what a later recap says instead
    same: tuple[Owned, ...] = ()  # numbers taken over from an earlier fact
    same_words: str = ""  # by these words


def assemble(
    candidates: Candidates, reading: Reading, model: FactModel, today: date
) -> tuple[Fact, ...]:
    """The facts of a narration of that day, in the order they were said."""
    owned = _owned(candidates, reading, model)
    things = {i: t for t in candidates.things for i in range(t.first, t.last)}
    verdicts = [_verdict(reading, n) for n in range(len(reading.facts))]
    yard = trade_file("kinds")["of_the_yard"]
    of_yard = [kind in yard for kind, *_ in verdicts]
    hives = hive_sequence(candidates, reading.facts, _hive_scores(candidates, reading), of_yard)
    facts = []
    for number, anchor in enumerate(reading.facts):
        kind, action, status, sure = verdicts[number]
        item, sure["item"] = _item(candidates, reading.item[number], anchor, kind, model, things)
        key, sure["hive"] = hives[number]
        day, sure["date"] = _pick(candidates.dates, reading.date[number])
        sure["anchor"] = float(reading.anchor[anchor])
        mention = _mention(candidates, key, reading.hive[number], anchor)
        numbers = tuple(owned.get(number, ()))
        day = turned(day, status, today)
        facts.append(Fact(anchor, kind, action, status, item, mention, day, numbers, sure))
    told = merge_repeats(candidates, correct_numbers(candidates, facts))
    return mark_conflicts(candidates, take_over(candidates, told))


def _mention(candidates: Candidates, key: Key, scores: Array, anchor: int) -> Mention | None:
    """The likeliest of the mentions that name these hives."""
    if key is None:
        return None
    same = [i for i, m in enumerate(candidates.mentions) if key_of(i, m) == key]
    if key == ALL and all(scores[-1] > scores[i] for i in same):
        return Mention(anchor, anchor + 1, (), "all")  # understood: "no feed in this yard"
    return candidates.mentions[max(same, key=lambda i: scores[i])]


@cache
def _allowed() -> tuple[np.ndarray, np.ndarray]:
    """Log masks: kinds x actions, actions x statuses."""
    rules = trade_file("kinds")
    kinds = np.full((len(KINDS), len(ACTIONS)), -1e9)
    for kind, actions in rules["actions"].items():
        for action in actions:
            kinds[KINDS.index(kind), ACTIONS.index(action)] = 0.0
    statuses = np.full((len(ACTIONS), len(STATUSES)), -1e9)
    for a, action in enumerate(ACTIONS):
        for status in rules["statuses"].get(action, rules["statuses"]["other"]):
            statuses[a, STATUSES.index(status)] = 0.0
    return kinds, statuses


def _verdict(reading: Reading, fact: int) -> tuple[str, str, str, dict[str, float]]:
    """The likeliest kind, action and status that go together."""
    kinds, statuses = _allowed()
    k, a, s = (np.log(p[fact] + 1e-9) for p in (reading.kind, reading.action, reading.status))
    joint = (
        k[:, None, None] + a[None, :, None] + s[None, None, :]
        + kinds[:, :, None] + statuses[None, :, :]
    )  # fmt: skip
    i, j, n = np.unravel_index(int(joint.argmax()), joint.shape)
    sure = {
        "kind": float(reading.kind[fact, i]),
        "action": float(reading.action[fact, j]),
        "status": float(reading.status[fact, n]),
    }
    return KINDS[i], ACTIONS[j], STATUSES[n], sure


def _item(
    candidates: Candidates,
    scores: Array,
    anchor: int,
    kind: str,
    model: FactModel,
    things: dict[int, Thing],
) -> tuple[str, float]:
    """The thing a fact is about: as named at its anchor, or the model's word for it."""
    best = int(scores.argmax())
    named, thing = model.classes["item"][best], things.get(anchor)
    sure = float(scores[best])
    if best == 0 or sure < LITERAL:
        named = thing.name if thing else singular(candidates.document.tokens[anchor].low)
        sure = float(scores[0]) * (1.0 if thing else 0.7)
    about = trade_file("kinds")["about"].get(kind)
    if about and named not in about["things"]:
        return about["otherwise"], sure
    return named, sure


def _pick(days: Sequence[Day], scores: Array) -> tuple[Day | None, float]:
    """Days that mean the same window share their probability."""
    total: dict[tuple[object, object], float] = {}
    first: dict[tuple[object, object], int] = {}
    for i, day in enumerate(days):
        key = (day.from_, day.to)
        total[key] = total.get(key, 0.0) + float(scores[i])
        if key not in first or scores[i] > scores[first[key]]:
            first[key] = i
    best = max(total, key=lambda key: total[key], default=None)
    if best is None or total[best] < float(scores[-1]):
        return None, float(scores[-1])
    return days[first[best]], total[best]


def _owned(candidates: Candidates, reading: Reading, model: FactModel) -> dict[int, list[Owned]]:
    """Numbers by the fact they belong to."""
    out: dict[int, list[Owned]] = {}
    weight = np.ones(len(reading.facts) + 1, np.float32)
    weight[-1] = NO_FACT
    for number, scores in enumerate(reading.owner):
        owner = int((scores * weight).argmax())
        if owner == len(reading.facts) and candidates.quantities[number].unit:
            owner = _in_its_sentence(candidates, reading, number)
        if owner == len(reading.facts) or _is_compared(candidates, number):
            continue
        role = _role(reading, number, candidates.quantities[number].shape)
        sure = float(scores[owner]) * float(reading.role[number, role])
        unit = model.classes["unit"][int(reading.unit[number].argmax())]
        out.setdefault(owner, []).append(Owned(number, model.classes["role"][role], unit, sure))
    return out


def _in_its_sentence(candidates: Candidates, reading: Reading, number: int) -> int:
    """The likeliest fact of the sentence for a measure that the model gives to none.

    A dose that is left out is worse than one that is asked about: what is taken here has
    a low probability, and the row gets its flag.
    """
    tokens, scores = candidates.document.tokens, reading.owner[number]
    sentence = tokens[candidates.quantities[number].first].sentence
    none = len(reading.facts)
    here = [n for n, a in enumerate(reading.facts) if tokens[a].sentence == sentence]
    best = max(here, key=lambda n: scores[n], default=none)
    return best if best != none and scores[best] > NO_MEASURE * scores[none] else none


def _is_compared(candidates: Candidates, number: int) -> bool:
    """Whether a number is the hive of "same as one"."""
    first = candidates.quantities[number].first
    hive = any(m.first <= first < m.last for m in candidates.mentions)
    before = candidates.document.tokens[first - 1].low if first else ""
    return hive and before in trade_file("cues")["compared"]


def _role(reading: Reading, number: int, shape: str) -> int:
    """The likeliest role that a number of this shape can have: only a ratio is a ratio."""
    ratio = ROLES.index("ratio")
    if shape == "ratio":
        return ratio
    scores = reading.role[number].copy()
    scores[ratio] = 0.0
    return int(scores.argmax())


def _hive_scores(candidates: Candidates, reading: Reading) -> Array:
    """The model's hive scores, with bare numbers that belong to a fact as numbers taken out."""
    scores = reading.hive.copy()
    owner = {q.first: reading.owner[n, -1] for n, q in enumerate(candidates.quantities)}
    for m, mention in enumerate(candidates.mentions):
        if mention.how == "bare" and mention.first in owner and len(mention.labels) == 1:
            scores[:, m] *= owner[mention.first]
    return scores
