"""Fields of a row as a keeper types them, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.logbook.register import clean_label
from fieldvoice.types import ROLES, Entry, Value, When

FIELDS = ("hive", "kind", "action", "item", "status", "values", "when", "details", "quote")
NOTHING = "-"

_NUMBER = r"-?(?:\d+(?:\.\d+)?|\.\d+)(?:\s+\d+/\d+|/\d+)?"
_VALUE = re.compile(
    rf"(?P<role>[a-z]+)\s+(?P<about>about\s+)?(?P<lo>{_NUMBER})(?::(?P<below>{_NUMBER}))?"
    rf"(?:\s*(?:-|to)\s*(?P<hi>{_NUMBER})(?::(?P<below_hi>{_NUMBER}))?)?\s*(?P<unit>.*)"
)


def field_text(entry: Entry, name: str) -> str:
    """A field as it can be typed again; "-" for nothing.

    >>> field_text(Entry("7", "feed", "give", "syrup", "done",
    ...     (Value("count", 4, 6, "frame", approx=True),)), "values")
    'count about 4 to 6 frame'
    """
    if name == "values":
        return "; ".join(_value_text(value) for value in entry.values) or NOTHING
    if name == "when":
        return _when_text(entry.when)
    if name == "details":
        return "; ".join(f"{key}={text}" for key, text in entry.details.items()) or NOTHING
    held = getattr(entry, name)
    return str(held) if held else NOTHING


def set_field(entry: Entry, name: str, text: str, day: date) -> Entry:
    """The entry with one field as typed; `day` is the day of the recording.

    Raises:
        InputError: there is no such field, or the text cannot be read.
    """
    text = " ".join(text.split())
    if name not in FIELDS:
        raise InputError(f"There is no field {name!r}; there are: {', '.join(FIELDS)}.")
    typed: dict[str, Any] = {name: text.lower()}
    if name == "values":
        typed = {name: _read_values(text)}
    elif name == "when":
        typed = {name: _read_when(text, day)}
    elif name == "details":
        typed = {name: _read_details(text)}
    elif name == "hive":
        typed = {name: read_hive(text)}
    elif name == "quote":
        typed = {name: "" if text == NOTHING else text}
    return replace(entry, **typed)


def read_hive(text: str) -> str | None:
    """A hive as typed: "Hive 9" is 9, "all" every hive, "-" or nothing the yard itself.

    Raises:
        InputError: it cannot be a label.
    """
    text = text.strip()
    if text in ("", NOTHING):
        return None
    return "all" if text.lower() == "all" else clean_label(text)


def _read_values(text: str) -> tuple[Value, ...]:
    if text in ("", NOTHING):
        return ()
    return tuple(_read_value(part.strip()) for part in text.split(";") if part.strip())


def _read_value(text: str) -> Value:
    found = _VALUE.fullmatch(text)
    if not found or found["role"] not in ROLES:
        raise InputError(
            f"{text!r} is no value; write role, number, unit, such as amount 2 quart, "
            f"count 4 to 6 frame or ratio 2:1 (roles: {', '.join(ROLES)})."
        )
    low = _number(found["lo"], found["below"])
    high = _number(found["hi"], found["below_hi"]) if found["hi"] else low
    if high < low:
        raise InputError(f"{text!r} runs backwards; write the smaller number first.")
    unit: str | None = found["unit"].strip().replace("%", "percent").replace("°", "deg") or None
    if found["role"] == "ratio":
        unit = unit or "sugar:water"
    return Value(found["role"], low, high, unit, bool(found["about"]), text)


def _number(text: str, below: str | None = None) -> float:
    """A typed number; "1 1/2" is one and a half, "3:2" arrives as 3 and 2.

    >>> _number("1 1/2"), _number("3", "2")
    (1.5, 1.5)
    """
    try:
        number = sum((Fraction(part) for part in text.split()), Fraction())
        return float(number / Fraction(below) if below else number)
    except ZeroDivisionError:
        raise InputError(f"{text}:{below} divides by zero.") from None


def _read_when(text: str, day: date) -> When | None:
    if text in ("", NOTHING):
        return None
    word, _, rest = text.partition(" ")
    if word == "by":
        return When(day, _day(rest))
    if word == "from":
        return When(_day(rest), None)
    first, to, last = text.partition(" to ")
    when = When(_day(first), _day(last) if to else _day(first))
    if when.from_ and when.to and when.from_ > when.to:
        raise InputError(f"{text!r} runs backwards; write the earlier day first.")
    return when


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            f"{text!r} is not a day; write 2026-05-03, 2026-05-03 to 2026-05-09, "
            "by 2026-05-09 or from 2026-05-03."
        ) from None


def _read_details(text: str) -> Mapping[str, str]:
    if text in ("", NOTHING):
        return {}
    details = {}
    for part in text.split(";"):
        key, equals, held = part.partition("=")
        if not equals or not key.strip() or not held.strip():
            raise InputError(
                f"{part.strip()!r} is no detail; write name=words, such as place=front."
            )
        details[key.strip().lower().replace(" ", "_")] = held.strip()
    return details


def _value_text(value: Value) -> str:
    about = "about " if value.approx else ""
    ratio = value.role == "ratio" and value.unit == "sugar:water"
    low, high = (f"{number:.10g}{':1' if ratio else ''}" for number in (value.lo, value.hi))
    span = low if value.lo == value.hi else f"{low} to {high}"
    return f"{value.role} {about}{span} {'' if ratio else value.unit or ''}".rstrip()


def _when_text(when: When | None) -> str:
    if when is None:
        return NOTHING
    if when.from_ == when.to:
        return f"{when.from_}"
    if when.from_ and when.to:
        return f"{when.from_} to {when.to}"
    return f"from {when.from_}" if when.from_ else f"by {when.to}"
