"""The spaCy pipeline: one component per finding, in the order in which each needs the last.

    respelling   misheard trade words put right
    numbers      quantities, ratios, ranges, with units
    dates        days and windows, away from the numbers
    labels       hives of the register, away from measures and dates
    things       the trade's vocabulary
    facts        the trained model: what is stated, of which hive, with which numbers
    rows         facts as drafts: quote, times, details, confidence, flags

Each leaves its finding on the Doc (`doc._`), where the next one reads it. The first five
are rules; `find_candidates` runs only those.
"""

from __future__ import annotations

from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

from fieldvoice.extraction.assemble import assemble
from fieldvoice.extraction.candidates import Candidates, days_of, free_mentions, numbers_of
from fieldvoice.extraction.confidence import load_confidence
from fieldvoice.extraction.document import read_document, spacy_without_torch
from fieldvoice.extraction.encoder import load_model, read_facts
from fieldvoice.extraction.labels import find_labels
from fieldvoice.extraction.quantities import find_quantities
from fieldvoice.extraction.respell import respell
from fieldvoice.extraction.rows import rows_of
from fieldvoice.extraction.things import find_things
from fieldvoice.types import Entry, Register, Transcript

if TYPE_CHECKING:
    from spacy.language import Language
    from spacy.tokens import Doc

RULES = ("respelling", "numbers", "dates", "labels", "things")
FINDINGS = (*RULES, "quantities", "facts", "rows")
GIVEN = ("recorded_at", "register", "transcript", "degrees")


def respelling(doc: Doc) -> Doc:
    """The document with misheard trade words put right."""
    doc._.respelling = respell(read_document(doc), doc._.register.respellings)
    return doc


def numbers(doc: Doc) -> Doc:
    """Quantities that can be values of a row."""
    doc._.quantities = find_quantities(doc._.respelling.text)
    doc._.numbers = numbers_of(doc._.respelling, doc._.quantities)
    return doc


def dates(doc: Doc) -> Doc:
    """Days and windows, relative to the day of the recording."""
    doc._.dates = days_of(doc._.respelling, doc._.recorded_at.date(), doc._.quantities)
    return doc


def labels(doc: Doc) -> Doc:
    """Places where a hive may be named."""
    found = find_labels(doc._.respelling, doc._.register)
    doc._.labels = free_mentions(found, doc._.numbers, doc._.dates)
    return doc


def things(doc: Doc) -> Doc:
    """Things of the trade's vocabulary."""
    doc._.things = find_things([t.low for t in doc._.respelling.tokens])
    return doc


def facts(doc: Doc) -> Doc:
    """What is stated, decided by the trained model within what the contract allows."""
    model, candidates = load_model(), candidates_of(doc)
    reading = read_facts(candidates, model, load_confidence().anchor)
    doc._.facts = assemble(candidates, reading, model, doc._.recorded_at.date())
    return doc


def rows(doc: Doc) -> Doc:
    """The drafts."""
    doc._.rows = rows_of(candidates_of(doc), doc._.facts, doc._.register, doc._.transcript)
    return doc


def candidates_of(doc: Doc) -> Candidates:
    """All that the rules left on a Doc."""
    found = doc._
    return Candidates(
        found.respelling,
        found.labels,
        found.numbers,
        found.dates,
        found.things,
        found.degrees or "",
    )


@cache
def _nlp() -> Language:
    spacy = spacy_without_torch()
    from spacy.language import Language
    from spacy.tokens import Doc

    for name in (*FINDINGS, *GIVEN):
        if not Doc.has_extension(name):
            Doc.set_extension(name, default=None)
    nlp: Language = spacy.blank("en")
    for component in (respelling, numbers, dates, labels, things, facts, rows):
        name = f"fieldvoice_{component.__name__}"
        Language.component(name, func=component)
        nlp.add_pipe(name, name=component.__name__)
    return nlp


def _doc(
    text: str, recorded_at: datetime, register: Register, transcript: Transcript | None
) -> Doc:
    doc = _nlp().make_doc(text)
    doc._.recorded_at, doc._.register, doc._.transcript = recorded_at, register, transcript
    return doc


def find_candidates(text: str, recorded_at: datetime, register: Register) -> Candidates:
    """What the rules find in a text: the first five components."""
    nlp = _nlp()
    with nlp.select_pipes(enable=list(RULES)):
        return candidates_of(nlp(_doc(text, recorded_at, register, None)))


def find_rows(
    transcript: Transcript, recorded_at: datetime, register: Register, degrees: str = ""
) -> tuple[Entry, ...]:
    """The drafts of a transcript: all components."""
    doc = _doc(transcript.text, recorded_at, register, transcript)
    doc._.degrees = degrees
    doc = _nlp()(doc)
    found: tuple[Entry, ...] = doc._.rows
    return found
