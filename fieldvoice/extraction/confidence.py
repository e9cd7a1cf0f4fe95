"""How far a draft can be trusted, and the flags that say why a person should look.

The confidence is a logistic function of what the model, the rules and the recogniser
say, fitted on narrations that the model had not seen (models/extraction/calibrate.py),
so that of the drafts given 0.9 nine in ten are right.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from fieldvoice.errors import ModelError
from fieldvoice.extraction.bounds import out_of_range
from fieldvoice.extraction.checked import checked, model_folder
from fieldvoice.extraction.corrections import takes_back
from fieldvoice.extraction.values import scale_of
from fieldvoice.trade.load import trade_file

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates
    from fieldvoice.extraction.times import Timeline
    from fieldvoice.types import Transcript, Value

SURELY = 0.8  # a word from this probability on was heard surely
DOUBTED = 0.35  # a word below this probability was heard unsurely
FIELDS = ("anchor", "kind", "status", "item", "hive", "date", "number")


@dataclass(frozen=True, slots=True)
class Confidence:
    """The fitted numbers."""

    anchor: float  # a token states a fact from this probability on
    keep_from: float  # below this confidence no draft is made; the words stay in the transcript
    flag_below: float  # a draft below this confidence is flagged
    bias: float
    weights: dict[str, float]


@cache
def load_confidence() -> Confidence:
    """Read models/extraction/confidence.json.

    Raises:
        ModelError: the file is missing or not what it should be.
    """
    path = model_folder() / "confidence.json"
    content = checked(path)
    try:
        return Confidence(**json.loads(content))
    except (ValueError, TypeError) as error:
        raise ModelError(
            f"The confidence file {path} cannot be read ({error}); install fieldvoice again."
        ) from error


def evidence(
    candidates: Candidates, fact: Fact, span: tuple[int, int], heard: float
) -> dict[str, float]:
    """What the confidence is computed from; log odds are cut at +-6."""
    numbers = [o.sure for o in fact.numbers]
    owned = {o.number for o in fact.numbers}
    inside = [n for n, q in enumerate(candidates.quantities) if span[0] <= q.first < span[1]]
    fields = ("anchor", "kind", "action", "status", "item", "hive", "date")
    return {
        **{name: _odds(fact.sure[name]) for name in fields},
        "number": _odds(min(numbers)) if numbers else 6.0,
        "worst": _odds(min([fact.sure[name] for name in fields] + numbers)),
        "numbers": float(len(numbers)),
        "left_over": float(len(set(inside) - owned)),
        "dated": float(fact.day is not None),
        "heard": _odds(min(heard, SURELY)),
        f"kind={fact.kind}": 1.0,
        f"status={fact.status}": 1.0,
        **_of_hive(candidates, fact),
        **_of_words(candidates, fact, span),
    }


def _of_hive(candidates: Candidates, fact: Fact) -> dict[str, float]:
    mention = fact.mention
    if mention is None:
        return {"no_hive": 1.0}
    tokens = candidates.document.tokens
    return {
        "far": math.log1p(abs(fact.anchor - mention.first)),
        "later": float(mention.first > fact.anchor),
        "same_sentence": float(tokens[mention.first].sentence == tokens[fact.anchor].sentence),
        "group_word": float(not mention.labels),
        "several": float(len(mention.labels) > 1),
        "bare": float(mention.how == "bare"),
        "unknown": float(mention.unknown),
        "misheard_hive": float(mention.respelled),
    }


def _of_words(candidates: Candidates, fact: Fact, span: tuple[int, int]) -> dict[str, float]:
    tokens = candidates.document.tokens
    thing = next((t for t in candidates.things if t.first <= fact.anchor < t.last), None)
    sentence = tokens[fact.anchor].sentence
    around = range(max(0, fact.anchor - 25), min(len(tokens), fact.anchor + 25))
    words = [tokens[i].low for i in around if tokens[i].sentence == sentence]
    return {
        "respelled": float(any(t.heard for t in tokens[span[0] : span[1]])),
        "named": float(thing is not None and thing.name == fact.item),
        "agrees": float(thing is not None and thing.kind == fact.kind),
        "question": float("?" in words),
        "corrected": float(fact.corrected or takes_back(candidates, *span)),
        "long": math.log1p(len(words)),
    }


def _odds(p: float) -> float:
    p = min(max(p, 1e-4), 1 - 1e-4)
    return max(-6.0, min(6.0, math.log(p / (1 - p))))


def judge(
    candidates: Candidates,
    fact: Fact,
    span: tuple[int, int],
    values: Sequence[Value],
    line: Timeline,
    transcript: Transcript,
    rule: Confidence,
) -> tuple[float, tuple[str, ...]]:
    """The calibrated confidence of a fact and its flags."""
    words, numbers = _that_matter(candidates, fact, span)
    heard = min(line.doubt(*piece) for piece in words)
    x = evidence(candidates, fact, span, heard)
    score = rule.bias + sum(rule.weights.get(name, 0.0) * v for name, v in x.items())
    confidence = 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, score))))
    flags = [*_said_flags(candidates, fact, span), *_value_flags(candidates, fact, values)]
    if heard < DOUBTED or any(_disputed(p, line, transcript) for p in (*words, *numbers)):
        flags.append("heard-unsurely")
    if confidence < rule.flag_below:
        flags.append(f"unsure-{_weakest(fact)}")
    return confidence, tuple(dict.fromkeys(flags))


def _weakest(fact: Fact) -> str:
    """The field that the model is least sure of, as the flag names it."""
    sure = dict(fact.sure) | {"number": min((o.sure for o in fact.numbers), default=1.0)}
    field = min(FIELDS, key=lambda name: sure[name])
    return {"anchor": "row"}.get(field, field)


def _said_flags(candidates: Candidates, fact: Fact, span: tuple[int, int]) -> list[str]:
    tokens = candidates.document.tokens[span[0] : span[1]]
    out = []
    if any(t.heard for t in tokens) or (fact.mention and fact.mention.respelled):
        out.append("respelled")
    if fact.mention and fact.mention.unknown:
        out.append("hive-unknown")
    if fact.recap:
        out.append("conflict")
    if fact.corrected or takes_back(candidates, *span):
        out.append("corrected")
    return out


def _value_flags(candidates: Candidates, fact: Fact, values: Sequence[Value]) -> list[str]:
    out = []
    # a container ("a sack") is a value without a number of its own
    for owned, value in zip((*fact.numbers, *fact.same), values, strict=False):
        said = candidates.quantities[owned.number]
        bare = value.role == "temperature" and said.unit not in ("degC", "degF")
        if bare and 0 < value.hi <= 45 and scale_of(candidates) is None:
            out.append("unit-assumed")
        if value.role == "ratio" and value.lo < 1:
            out.append("ratio-order")
        if out_of_range(value):
            out.append("out-of-range")
    sorts = [(v.role, v.unit) for v in values]
    twice = len(set(sorts)) < len(sorts)
    if twice or any(_falls(candidates, owned.number) for owned in fact.numbers):
        out.append("unsure-number")
    return out


def _falls(candidates: Candidates, number: int) -> bool:
    """ "Six to four degrees": nobody counts down, so it may have been sixty-four."""
    said, tokens = candidates.quantities[number], candidates.document.tokens
    if not said.first or tokens[said.first - 1].low != "to":
        return False
    return any(
        other.last == said.first - 1 and other.unit is None and said.lo < other.lo < 10
        for other in candidates.quantities
    )


def _that_matter(
    candidates: Candidates, fact: Fact, span: tuple[int, int]
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Words and numbers on which the row hangs, as characters of the text as it came.

    Words are the thing and what negates; a doubted "um" beside them is nobody's concern.
    Numbers are those of the row, its hive and its day: a recogniser is as sure of a wrong
    number as of a right one, so only a dispute about them counts.
    """
    tokens = candidates.document.tokens
    words = [(fact.anchor, fact.anchor + 1)]
    words += [(t.first, t.last) for t in candidates.things if t.first <= fact.anchor < t.last]
    negations = trade_file("cues")["negations"]
    words += [(i, i + 1) for i in range(*span) if tokens[i].low in negations]
    quantities = [candidates.quantities[o.number] for o in fact.numbers]
    numbers = [(p.first, p.last) for p in (*quantities, fact.mention, fact.day) if p]

    def places(spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(tokens[a].origin[0], tokens[b - 1].origin[1]) for a, b in spans]

    return places(words), places(numbers)


def _disputed(piece: tuple[int, int], line: Timeline, transcript: Transcript) -> bool:
    """Whether hearing left open how these words are to be read."""
    start, end = line.seconds(*piece)
    if start is None or end is None:
        return False
    return any(d.start < end and start < d.end for d in transcript.doubts)
