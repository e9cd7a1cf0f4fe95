"""A row's fields as typed on the page: read one by one, every problem named at its field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.review.decisions import check_entry, settled, with_hive
from fieldvoice.review.fields import field_text, set_field
from fieldvoice.review.vocabulary import counted_in, things, with_role
from fieldvoice.types import ACTIONS, KINDS, STATUSES, Entry, When

Days = Callable[[str, date], When | None]

ONE_OF = {"kind": KINDS, "action": ACTIONS, "status": STATUSES}
_LONGEST_MONTH = 31
_NUMBERED = re.compile(r"(?P<by>by\s+)?(?:on\s+)?(?:the\s+)?(?P<day>\d{1,2})(?:st|nd|rd|th)?")
TEXTS = ("hive", "item", "kind", "action", "status", "when", "details", "quote")


def texts_of(entry: Entry) -> dict[str, Any]:
    """The fields as they can be typed again; nothing is an empty text."""
    texts: dict[str, Any] = {name: field_text(entry, name) for name in TEXTS}
    texts = {name: "" if text == "-" else text for name, text in texts.items()}
    return texts | {
        "values": [field_text(replace(entry, values=(v,)), "values") for v in entry.values]
    }


def read_entry(
    entry: Entry, typed: Mapping[str, Any], day: date, days: Days
) -> tuple[Entry, dict[str, str]]:
    """The entry with what was typed, and a sentence for each field that cannot be read."""
    problems: dict[str, str] = {}
    shown = texts_of(entry)
    for name in TEXTS:
        text = typed.get(name)
        if not isinstance(text, str) or text == shown[name]:
            continue
        try:
            entry = _with(entry, name, text, day, days)
        except InputError as error:
            problems[name] = str(error)
    if entry.item != shown["item"] and entry.kind == shown["kind"] and not typed.get("kind_chosen"):
        entry = replace(entry, kind=kind_with(entry.kind, entry.item))
    values = typed.get("values")
    decided = [name for name in TEXTS if typed.get(name, shown[name]) != shown[name]]
    if isinstance(values, list) and [v for v in values if v] != shown["values"]:
        decided.append("values")
        try:
            entry = _with_values(entry, [text for text in values if isinstance(text, str)])
        except InputError as error:
            problems["values"] = str(error)
    entry = settled(entry, decided)
    if not problems:
        try:
            check_entry(entry)
        except InputError as error:
            problems["row"] = str(error)
    return entry, problems


def kind_with(kind: str, item: str) -> str:
    """The kind of a fact once it is about another thing, unless the keeper says otherwise.

    >>> kind_with("equipment", "queen cell"), kind_with("supply", "sugar")
    ('queen', 'supply')
    """
    return kind if kind == "supply" else things().get(item, kind)  # anything may be bought


def _with(entry: Entry, name: str, text: str, day: date, days: Days) -> Entry:
    text = text.strip() or "-"
    if name in ONE_OF and text not in ONE_OF[name]:
        raise InputError(f"{text!r} is not one of {', '.join(ONE_OF[name])}.")
    if name == "item" and text == "-":
        raise InputError("Say what the row is about.")
    if name == "when":
        return _with_days(entry, text, day, days)
    changed = set_field(entry, name, text, day)
    return with_hive(changed, changed.hive) if name == "hive" else changed


def _with_days(entry: Entry, text: str, day: date, days: Days) -> Entry:
    """A date as it is written, or in words, or the number of a day: "24", "by the 24th"."""
    numbered = _NUMBERED.fullmatch(text.lower())
    if numbered and 1 <= int(numbered["day"]) <= _LONGEST_MONTH:
        found = _numbered(int(numbered["day"]), day, back=entry.status == "past")
        return replace(entry, when=When(day if numbered["by"] else found, found))
    try:
        return set_field(entry, "when", text, day)
    except InputError as error:
        when = days(text, day)
        if when is None:
            raise InputError(
                f"{text!r} is no day that is understood; write next Tuesday, in two weeks, "
                "by the tenth of June, or 2026-06-10."
            ) from error
        return replace(entry, when=when)


def _numbered(number: int, day: date, *, back: bool) -> date:
    """The nearest day of that number after `day`, or before it."""
    step = timedelta(days=-1 if back else 1)
    day += step
    while day.day != number:
        day += step
    return day


def _with_values(entry: Entry, texts: list[str]) -> Entry:
    """Numbers as typed; one that was not touched keeps the words it was said in."""
    known = {field_text(replace(entry, values=(v,)), "values"): v for v in entry.values}
    values = []
    for position, text in enumerate(texts):
        if not text.strip():
            continue
        if text in known:
            values.append(known[text])
            continue
        old = entry.values[position] if position < len(entry.values) else None
        if old:
            whole = with_role(text, old.role, old.unit, entry.kind)
        elif text.strip().isdigit():  # of what the words speak of, else of the thing itself
            whole = with_role(f"{text} {counted_in(entry.quote) or entry.item}", None)
        else:
            whole = with_role(text, None, kind=entry.kind)
        values += set_field(entry, "values", whole, date.min).values
    return replace(entry, values=tuple(values))
