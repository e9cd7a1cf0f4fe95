"""A transcript becomes drafts: the one public way into this room."""

from __future__ import annotations

from datetime import datetime

from fieldvoice.settings import Settings
from fieldvoice.types import Entry, Register, Transcript


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
    from fieldvoice.extraction.nlp import find_rows

    transcript = heard if isinstance(heard, Transcript) else _plain(heard)
    if not transcript.text.strip():
        return ()
    degrees = settings.degrees if settings else ""
    return find_rows(transcript, recorded_at, register, degrees)


def _plain(text: str) -> Transcript:
    return Transcript(text=text, language="en", engine="", model="", duration=0.0)
