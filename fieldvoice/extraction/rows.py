"""Facts become drafts: one row per hive, with its words, times, details, confidence and flags."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fieldvoice.extraction.confidence import Confidence, judge, load_confidence
from fieldvoice.extraction.details import details_of
from fieldvoice.extraction.explain import because
from fieldvoice.extraction.hives import resolve
from fieldvoice.extraction.quotes import quote_spans
from fieldvoice.extraction.times import Timeline, timeline
from fieldvoice.extraction.values import values_of
from fieldvoice.types import Entry, Register, Transcript, When

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates


def rows_of(
    candidates: Candidates, facts: Sequence[Fact], register: Register, transcript: Transcript
) -> tuple[Entry, ...]:
    """The drafts of all facts, in the order they were said."""
    rule, line = load_confidence(), timeline(transcript)
    spans = quote_spans(candidates, facts)
    rows: list[Entry] = []
    named: list[str] = []
    for fact, span in zip(facts, spans, strict=True):
        hives = _hives(candidates, fact, named, register)
        named += [h for h in hives if h and h != "all"]
        drafts = _rows(candidates, fact, span, hives, line, transcript, rule)
        rows += [row for row in drafts if row.confidence >= rule.keep_from]
    return tuple(rows)


def _hives(
    candidates: Candidates, fact: Fact, named: Sequence[str], register: Register
) -> tuple[str | None, ...]:
    mention = fact.mention
    if mention is None:
        return (None,)
    words = [t.low for t in candidates.document.tokens[mention.first : mention.last]]
    return resolve(mention, named, words, register) or (named[-1] if named else None,)


def _rows(
    candidates: Candidates,
    fact: Fact,
    span: tuple[int, int],
    hives: Sequence[str | None],
    line: Timeline,
    transcript: Transcript,
    rule: Confidence,
) -> list[Entry]:
    tokens = candidates.document.tokens
    start, end = tokens[span[0]].origin[0], tokens[span[1] - 1].origin[1]
    values = values_of(candidates, fact)
    confidence, flags = judge(candidates, fact, span, values, line, transcript, rule)
    details = details_of(candidates, fact, span, [h for h in hives if h])
    seconds = line.seconds(start, end)
    return [
        Entry(
            hive=hive,
            kind=fact.kind,
            action=fact.action,
            item=fact.item,
            status=fact.status,
            values=values,
            when=When(fact.day.from_, fact.day.to) if fact.day else None,
            details=details,
            quote=transcript.text[start:end],
            start=seconds[0],
            end=seconds[1],
            confidence=confidence,
            flags=flags,
            because=because(candidates, fact, hive),
        )
        for hive in hives
    ]
