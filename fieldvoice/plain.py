"""An entry, its numbers and its days as a keeper would read them in one line."""

from __future__ import annotations

from collections.abc import Callable

from fieldvoice.types import Entry, Value, When

_SIGNS = {
    "degF": "°F",
    "degC": "°C",
    "percent": "%",
    "mile_per_hour": "mph",
    "kilometre_per_hour": "km/h",
}
_IRREGULAR = {"foot": "feet", "bees": "bees", "larva": "larvae", "leaf": "leaves"}


def entry_line(entry: Entry) -> str:
    """The row in one line, without its hive.

    >>> entry_line(Entry("7", "feed", "give", "syrup", "done",
    ...     (Value("amount", 2, 2, "quart"), Value("ratio", 2, 2, "sugar:water"))))
    'feed: give syrup, done, 2 quarts, 2:1'
    """
    parts = [f"{entry.kind}: {entry.action} {entry.item}".rstrip(), entry.status]
    parts += [value_text(value) for value in entry.values]
    if entry.when:
        parts.append(when_text(entry.when))
    parts += [f"{name.replace('_', ' ')} {text}" for name, text in entry.details.items()]
    return ", ".join(part for part in parts if part)


def value_text(value: Value) -> str:
    """A number with its unit; a range stays a range.

    >>> value_text(Value("count", 4, 6, "frame", approx=True))
    'about 4 to 6 frames'
    >>> value_text(Value("ratio", 0.5, 0.5, "sugar:water"))
    '1:2'
    """
    if value.role == "ratio":
        shown = _span(value, _ratio)
    elif value.unit in (None, "1"):
        shown = _span(value, _number) if value.role != "share" else _share(value)
    else:
        sign = _SIGNS.get(value.unit or "")
        unit = sign or _plural(value.unit or "", value.hi).replace("_", " ")
        shown = f"{_span(value, _number)} {unit}"
    return f"about {shown}" if value.approx else shown


def when_text(when: When) -> str:
    """The days an entry speaks of.

    >>> from datetime import date
    >>> when_text(When(None, date(2026, 4, 2)))
    'by 2026-04-02'
    """
    if when.from_ == when.to and when.from_:
        return f"on {when.from_}"
    if when.from_ and when.to:
        return f"{when.from_} to {when.to}"
    if when.from_:
        return f"from {when.from_}"
    return f"by {when.to}" if when.to else ""


def clock(seconds: float | None) -> str:
    """A place in a recording.

    >>> clock(130.4)
    '2:10'
    """
    if seconds is None:
        return ""
    minutes, rest = divmod(int(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def hive_name(hive: str | None) -> str:
    """What a row is about.

    >>> hive_name("7"), hive_name("nuc 2"), hive_name(None), hive_name("all")
    ('hive 7', 'hive nuc 2', 'the yard', 'all hives')
    """
    if hive is None:
        return "the yard"
    return "all hives" if hive == "all" else f"hive {hive}"


def _span(value: Value, write: Callable[[float], str]) -> str:
    low, high = write(value.lo), write(value.hi)
    return low if value.lo == value.hi else f"{low} to {high}"


def _number(number: float) -> str:
    return f"{number:g}" if abs(number) < 1e6 else f"{number:.0f}"


def _ratio(ratio: float) -> str:
    """Bigger over smaller side, the smaller one as 1."""
    return f"{_number(ratio)}:1" if ratio >= 1 or ratio <= 0 else f"1:{_number(1 / ratio)}"


def _share(value: Value) -> str:
    return _span(value, lambda share: f"{_number(share * 100)} %")


def _plural(unit: str, number: float) -> str:
    if 0 < number <= 1 or unit.endswith("s"):
        return unit
    if unit in _IRREGULAR:
        return _IRREGULAR[unit]
    return f"{unit}es" if unit.endswith(("x", "ch", "sh")) else f"{unit}s"
