"""The trade's words as suggestions for a field, and a first guess at a row from its words."""

from __future__ import annotations

import re
from functools import cache

from fieldvoice.trade.load import trade_file
from fieldvoice.types import KINDS, ROLES

_USUAL_ROLE = {  # by what the unit measures, where the row itself does not tell
    "volume": "amount", "mass": "weight", "temperature": "temperature", "time": "duration",
    "speed": "wind", "length": "size", "ratio": "ratio", "share": "share",
}  # fmt: skip
_ROLE_IN = {  # the same, where the kind of fact tells
    "mites": {"volume": "sample", "share": "rate"}, "harvest": {"share": "moisture"},
}  # fmt: skip


def _by_kind() -> list[tuple[str, dict[str, list[str]]]]:
    return [(kind, names) for kind, names in trade_file("things").items() if kind in KINDS]


@cache
def things() -> dict[str, str]:
    """Every thing of the trade to the kind of fact it mostly belongs to, in the trade's order."""
    found: dict[str, str] = {}
    for kind, names in _by_kind():
        for name, others in names.items():
            for word in others if name == "*" else [name]:
                found.setdefault(word, kind)
    return found


@cache
def _said() -> dict[str, tuple[str, str]]:
    """Each way to say a thing, to its name and kind."""
    found = {name: (name, kind) for name, kind in things().items()}
    for kind, names in _by_kind():
        for name, others in names.items():
            if name != "*":
                for other in others:
                    found.setdefault(other, (name, kind))
    return found


@cache
def units() -> dict[str, str]:
    """Each way to say a unit, to its name."""
    return {said: unit["name"] for unit in trade_file("units")["unit"] for said in unit["said"]}


_COUNTED = ("frame", "seam", "box", "strip", "bag", "jar", "cell")


@cache
def _dimensions() -> dict[str, str]:
    return {unit["name"]: unit["dimension"] for unit in trade_file("units")["unit"]}


def with_role(text: str, role: str | None, unit: str | None = None, kind: str = "") -> str:
    """A number as a keeper types it, with its role and its unit's name in the log.

    `role` and `unit` are those of the number it replaces; a bare number has the same, and one
    that is measured in something else has another role. What half a cup or a percentage is
    depends on the kind of fact.

    >>> with_role("2 quarts", None), with_role("1:1", None), with_role("about 4 to 6 frames", None)
    ('amount 2 quart', 'ratio 1:1', 'count about 4 to 6 frame')
    >>> with_role("64", "temperature", "degF"), with_role("temperature 64 degF", None)
    ('temperature 64 degF', 'temperature 64 degF')
    >>> with_role("3%", "count", "mite", "mites"), with_role("2 boxes", "count", "frame")
    ('rate 3 percent', 'count 2 box')
    >>> with_role(".5 cup", None, kind="mites")
    'sample .5 cup'
    """
    text = " ".join(text.split())
    first, _, rest = text.partition(" ")
    old_unit = unit or ""
    if first in ROLES:
        role, text, old_unit = first, rest, ""
    number = re.match(r"(?:about\s+)?[-\d./:\s]*(?:(?:to|-)\s*[\d./:\s]+)?", text)
    said = text[number.end() :].strip() if number else ""
    said = said if said in _dimensions() else said.lower()  # "degF" is a name of the log
    unit = units().get(said) or said or (unit if role and ":" not in text and unit else "")
    if said and unit == said and said not in _dimensions():
        unit = _singular(said)
    measured = _dimensions().get(unit)
    if old_unit and measured != _dimensions().get(old_unit):
        role = None
    if ":" in text and not said:
        role = "ratio"
    usual = _USUAL_ROLE | _ROLE_IN.get(kind, {})
    role = role or (usual.get(measured, "count") if measured else "count")
    return f"{role} {text[: number.end()].strip() if number else text} {unit}".rstrip()


def counted_in(words: str) -> str | None:
    """What a bare number beside these words most likely counts or measures; None if nothing.

    >>> counted_in("few frames of capped honey"), counted_in("one medium super on top")
    ('frame', None)
    """
    for word in re.findall(r"[a-z]+", words.lower()):
        unit = units().get(word) or (_singular(word) if _singular(word) in _COUNTED else None)
        if unit:
            return unit
    return None


def _singular(word: str) -> str:
    if word.endswith("ies"):
        return f"{word[:-3]}y"
    if word.endswith(("xes", "ches", "shes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and word != "bees" and not word.endswith("ss") else word


def guess(words: str) -> tuple[str, str, str]:
    """Kind, action and thing of a row that speaks of the first thing of the trade in the words.

    >>> guess("and I put the mouse guard on")
    ('equipment', 'add', 'mouse guard')
    """
    low = re.findall(r"[a-z'-]+", words.lower())
    for size in (3, 2, 1):
        for at in range(len(low) - size + 1):
            span = " ".join(low[at : at + size])
            found = _said().get(span) or _said().get(_singular(span))
            if found:
                name, kind = found
                return kind, trade_file("kinds")["actions"][kind][0], name
    return "note", "see", "note"
