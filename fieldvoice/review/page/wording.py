"""A row as a keeper would say it: what, and what became of it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from datetime import date

from fieldvoice.plain import clock, value_text
from fieldvoice.review.page.places import place_of
from fieldvoice.review.queue import why
from fieldvoice.types import Entry, Transcript, When, Word

_DONE = {
    "give": "given", "add": "added", "remove": "taken off", "replace": "replaced",
    "move": "moved", "open": "opened", "close": "closed", "reduce": "narrowed",
    "repair": "repaired", "clean": "cleaned", "sample": "sampled", "treat": "treated",
    "split": "split", "combine": "combined", "requeen": "requeened", "mark": "marked",
    "harvest": "harvested", "weigh": "weighed", "inspect": "looked at", "get": "got",
    "see": "seen",
}  # fmt: skip


def became(entry: Entry) -> str:
    """What became of the row's thing.

    >>> became(Entry("7", "feed", "give", "syrup", "planned"))
    'to be given'
    """
    done = _DONE.get(entry.action, entry.action)
    if entry.status == "absent":
        return "not there"
    if entry.status == "planned":
        return "to get" if entry.action == "get" else f"to be {done}"
    if entry.status == "skipped":
        return f"not {done}, on purpose"
    if entry.status == "past":
        return f"{done} before this visit"
    return done


def facts(entry: Entry) -> list[str]:
    """Numbers, days and details, each as one short phrase."""
    told = [value_text(value) for value in entry.values]
    if entry.when:
        told.append(days_text(entry.when))
    told += [f"{name.replace('_', ' ')}: {text}" for name, text in entry.details.items()]
    return [text for text in told if text]


def days_text(when: When) -> str:
    """Days with their weekday, as they stand in a calendar.

    >>> days_text(When(date(2026, 5, 12), date(2026, 5, 12)))
    'Tue 12 May 2026'
    """
    if when.from_ and when.from_ == when.to:
        return _day(when.from_)
    if when.from_ and when.to:
        return f"{_day(when.from_)} to {_day(when.to)}"
    if when.from_:
        return f"from {_day(when.from_)}"
    return f"by {_day(when.to)}" if when.to else ""


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"


def reasons(entry: Entry, flags: Sequence[str], transcript: Transcript) -> list[str]:
    """Why a person should look, each with what was heard and where, if that is known."""
    return [_reason(flag, entry, transcript) for flag in flags]


def _reason(flag: str, entry: Entry, transcript: Transcript) -> str:
    told = why(flag, entry)
    part = flag.removeprefix("unsure-")
    if flag == "conflict" and entry.details.get("recap"):
        recap = entry.details["recap"]
        place = place_of(recap.rpartition(":")[2], transcript, after=entry.end or 0.0)
        later = f"at {clock(place.start)}" if place else "later"
        return f'{told}: this at {clock(entry.start)}, "{recap}" {later}'
    if part != flag:
        held = _held(entry, part)
        words = next((b.words for b in entry.because if b.field == part and b.words), "")
        told += f": {held}" if held else ""
        return f'{told}, from "{words}"' if held and words and words.lower() != held else told
    if flag != "heard-unsurely" or entry.start is None or entry.end is None:
        return told
    doubts = [
        doubt
        for doubt in transcript.doubts
        if doubt.start < entry.end and entry.start < doubt.end
    ]  # fmt: skip
    for doubt in doubts:
        others = [r.text.strip() for r in doubt.readings if r.text.strip() != doubt.heard.strip()]
        if others:
            words = " or ".join(f'"{other}"' for other in others[:2])
            return f'{told}: "{doubt.heard.strip()}" at {clock(doubt.start)} may be {words}'
    unsure = _words_between(transcript, entry.start, entry.end)
    if unsure:
        least = min(unsure, key=lambda word: word.probability)
        return f'{told}: "{least.word.strip(" .,;")}" at {clock(least.start)}'
    return told


def _held(entry: Entry, part: str) -> str:
    """What the row has where a doubt is."""
    if part == "number":
        return ", ".join(map(value_text, entry.values))
    if part == "date":
        return days_text(entry.when) if entry.when else ""
    return {
        "hive": entry.hive or "the yard", "item": entry.item, "kind": entry.kind,
        "action": entry.action, "status": entry.status,
    }.get(part, "")  # fmt: skip


def _words_between(transcript: Transcript, start: float, end: float) -> list[Word]:
    """The words of a row's stretch; segments are in order, so few are looked at."""
    found: list[Word] = []
    last = bisect_left(transcript.segments, end, key=lambda segment: segment.start)
    for segment in reversed(transcript.segments[:last]):
        if segment.end <= start:
            break
        found += [word for word in segment.words if start <= word.start < end]
    return found
