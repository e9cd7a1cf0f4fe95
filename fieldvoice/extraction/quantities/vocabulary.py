"""The words of numbers and units, from fieldvoice/trade/units.toml and numbers.toml."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from fieldvoice.errors import SettingsError
from fieldvoice.extraction.quantities.tokens import tokenize
from fieldvoice.trade.load import trade_file

Phrases = dict[str, tuple[tuple[str, ...], ...]]  # by a word that every phrase of them holds


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: its name in the log, its dimension, what may follow it, its name in pint."""

    name: str
    dimension: str
    parts: Mapping[str, float]  # smaller unit to how many make one
    pint: str


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Spoken names to units, and the words around numbers."""

    units: Mapping[str, Unit]
    names: Mapping[str, tuple[tuple[tuple[str, ...], str, bool], ...]]
    """First word to (words, unit, only after digits), longest first."""
    approx_before: Phrases  # by last word
    approx_after: Phrases  # by first word
    at_least: Phrases  # by last word
    up_to: Phrases  # by last word
    sets: Mapping[str, frozenset[str]]  # the plain word lists, by their name
    sounds_like: Mapping[str, float]


@cache
def vocabulary() -> Vocabulary:
    """The vocabulary of the two data files, read once."""
    return build_vocabulary(trade_file("units"), trade_file("numbers"))


def build_vocabulary(units: Mapping[str, Any], numbers: Mapping[str, Any]) -> Vocabulary:
    """Make a vocabulary of the content of the two files.

    Raises SettingsError where one spoken name stands for two units.
    """
    by_name: dict[str, Unit] = {}
    names: dict[str, list[tuple[tuple[str, ...], str, bool]]] = {}
    owner: dict[str, str] = {}
    for row in units["unit"]:
        name = row["name"]
        by_name[name] = Unit(name, row["dimension"], row.get("parts", {}), row.get("pint", name))
        for said in [*row["said"], *row.get("digits", ())]:
            if owner.setdefault(said, name) != name:
                raise SettingsError(
                    f'units.toml: "{said}" stands under {owner[said]} and under {name}. '
                    "Take it out of one of them."
                )
            key = tuple(t.low for t in tokenize(said))
            names.setdefault(key[0], []).append((key, name, said in row.get("digits", ())))
    plain = {k: frozenset(v) for k, v in numbers.items() if isinstance(v, list)}
    return Vocabulary(
        units=by_name,
        names={w: tuple(sorted(v, key=lambda x: -len(x[0]))) for w, v in names.items()},
        approx_before=_phrases(numbers["approx_before"], -1),
        approx_after=_phrases(numbers["approx_after"], 0),
        at_least=_phrases(numbers["at_least"], -1),
        up_to=_phrases(numbers["up_to"], -1),
        sets=plain,
        sounds_like={w: float(v) for w, v in numbers["sounds_like"].items()},
    )


def _phrases(said: Iterable[str], key: int) -> Phrases:
    out: dict[str, list[tuple[str, ...]]] = {}
    for phrase in said:
        words = tuple(phrase.split())
        out.setdefault(words[key], []).append(words)
    return {w: tuple(sorted(v, key=len, reverse=True)) for w, v in out.items()}
