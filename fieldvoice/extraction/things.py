"""The trade's things in a text: longest match against the vocabulary."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from fieldvoice.trade.load import trade_file
from fieldvoice.types import KINDS


@dataclass(frozen=True, slots=True)
class Thing:
    """A thing of the vocabulary, as found."""

    first: int  # token
    last: int  # one past the last token
    item: str  # its name in the log
    kind: str  # the kind of fact it mostly belongs to
    said: str  # the matched words, singular

    @property
    def name(self) -> str:
        """What the log calls it: as said, or the thing itself if a form of it was said."""
        if self.said in _forms():
            return self.item
        return self.said if self.said == self.item else singular(self.said)


@dataclass(frozen=True, slots=True)
class _Name:
    item: str
    kind: str
    said: str


@cache
def _names() -> dict[tuple[str, ...], _Name]:
    """Every way to say a thing, as lower-case tokens."""
    names: dict[tuple[str, ...], _Name] = {}
    for kind, things in trade_file("things").items():
        if kind not in KINDS:
            continue
        for item, said in _sayings(things):
            name = _Name(item, kind, said)
            words = tuple(said.replace("-", " - ").replace("'s", " 's").split())
            names.setdefault(words, name)
            names.setdefault((*words[:-1], plural(words[-1])), name)
    return names


def _sayings(things: Mapping[str, Sequence[str]]) -> Iterator[tuple[str, str]]:
    for item, sayings in things.items():
        if item == "*":
            yield from ((name, name) for name in sayings)
        else:
            yield from ((item, said) for said in (item, *sayings))


@cache
def _forms() -> frozenset[str]:
    return frozenset(trade_file("things")["forms"])


@cache
def _longest() -> int:
    return max(len(words) for words in _names())


def plural(noun: str) -> str:
    """The regular plural of a noun; the irregular ones are in the vocabulary.

    >>> plural("patty"), plural("box"), plural("egg")
    ('patties', 'boxes', 'eggs')
    """
    if noun.endswith("y") and noun[-2:-1] not in "aeiou":
        return noun[:-1] + "ies"
    if noun.endswith(("s", "x", "ch", "sh", "z")):
        return noun + "es"
    return noun + "s"


def singular(noun: str) -> str:
    """The singular of a plural; other words come back as they are.

    >>> singular("patties"), singular("boxes"), singular("glass")
    ('patty', 'box', 'glass')
    """
    irregular: dict[str, str] = trade_file("things")["irregular"]
    if noun in irregular:
        return irregular[noun]
    if noun.endswith("ies") and len(noun) > 4:
        return noun[:-3] + "y"
    if noun.endswith(("xes", "ches", "shes", "sses", "zes")):
        return noun[:-2]
    if noun.endswith("s") and not noun.endswith(("ss", "us", "is")):
        return noun[:-1]
    return noun


def find_things(low: Sequence[str]) -> tuple[Thing, ...]:
    """The things named by lower-case tokens, longest first, none overlapping."""
    names, longest = _names(), _longest()
    out: list[Thing] = []
    at = 0
    while at < len(low):
        for size in range(min(longest, len(low) - at), 0, -1):
            name = names.get(tuple(low[at : at + size]))
            if name:
                out.append(Thing(at, at + size, name.item, name.kind, name.said))
                at += size
                break
        else:
            at += 1
    return tuple(out)
