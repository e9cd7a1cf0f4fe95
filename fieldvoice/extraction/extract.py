"""A transcript becomes drafts: the one public way into this room."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fieldvoice.extraction.assemble import Fact, assemble
from fieldvoice.extraction.candidates import Candidates, find_candidates
from fieldvoice.extraction.confidence import Confidence, judge, load_confidence
from fieldvoice.extraction.details import details_of
from fieldvoice.extraction.encoder import load_model, read_facts
from fieldvoice.extraction.explain import because
from fieldvoice.extraction.hives import resolve
from fieldvoice.extraction.quotes import quote_spans
from fieldvoice.extraction.times import Timeline, timeline
from fieldvoice.extraction.values import value_of
from fieldvoice.settings import Settings
from fieldvoice.types import Entry, Register, Transcript, When


def extract(
    heard: Transcript | str,
    recorded_at: datetime,
    register: Register,
    settings: Settings | None = None,
) -> tuple[Entry, ...]:
    """All drafts of a recording or a plain text, in the order they were said.

    One row per fact and hive, each with the words it came from, the seconds they were
    spoken (None for plain text), a calibrated confidence, and the flags that say why a
    person should look.
    """
    transcript = heard if isinstance(heard, Transcript) else _plain(heard)
    if not transcript.text.strip():
        return ()
    settings = settings or Settings()
    model, rule = load_model(), load_confidence()
    candidates = find_candidates(transcript.text, recorded_at, register)
    reading = read_facts(candidates, model, rule.anchor)
    facts = assemble(candidates, reading, model)
    spans = quote_spans(candidates, facts)
    line = timeline(transcript)
    rows: list[Entry] = []
    named: list[str] = []
    for fact, span in zip(facts, spans, strict=True):
        hives = _hives(candidates, fact, named, register)
        named += [h for h in hives if h and h != "all"]
        rows += _rows(candidates, fact, span, hives, line, transcript, rule)
    return tuple(rows)


def _plain(text: str) -> Transcript:
    return Transcript(text=text, language="en", engine="", model="", duration=0.0)


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
    values = tuple(value_of(candidates, fact, o) for o in fact.numbers)
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
