"""Put misheard trade words right, and remember what was heard.

Only words and phrases of the trade's list and of the keeper's own are touched; those of
the trade that are also ordinary words need a word of the trade close by.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

from fieldvoice.extraction.document import Document, Token
from fieldvoice.trade.load import trade_file

REACH = 4  # words to either side in which a trade word makes an ordinary one doubtful


@dataclass(frozen=True, slots=True)
class _Spelling:
    right: tuple[str, ...]
    near: frozenset[str]  # empty: always


@cache
def _spellings() -> dict[tuple[str, ...], tuple[_Spelling, ...]]:
    raw = trade_file("mishearings")
    table: dict[tuple[str, ...], list[_Spelling]] = {}
    for right, heard in raw["always"].items():
        for said in heard:
            table.setdefault(_words(said), []).append(_Spelling(_words(right), frozenset()))
    for right, rule in raw["near"].items():
        for said in rule["heard"]:
            spelling = _Spelling(_words(right), frozenset(rule["with"]))
            table.setdefault(_words(said), []).append(spelling)
    return {heard: tuple(spellings) for heard, spellings in table.items()}


def _words(said: str) -> tuple[str, ...]:
    return tuple(said.replace("-", " - ").replace("'s", " 's").split())


def respell(document: Document, own: Mapping[str, str] | None = None) -> Document:
    """The document with misheard words put right; each such token keeps what was heard.

    `own` are the keeper's respellings, heard to meant; they go before the trade's.
    """
    table = dict(_spellings())
    for heard, meant in (own or {}).items():
        table[_words(heard)] = (_Spelling(_words(meant), frozenset()),)
    longest = max(map(len, table))
    tokens = document.tokens
    low = [t.low for t in tokens]
    out: list[Token] = []
    text = ""
    at = 0
    while at < len(tokens):
        size, right = _find(low, at, table, longest)
        gap = document.text[tokens[at - 1].end if at else 0 : tokens[at].start]
        text += gap
        if right:
            new = _replaced(document.text, tokens[at : at + size], right, len(text))
            text += " ".join(right)
        else:
            new = [_moved(tokens[at], len(text))]
            text += tokens[at].text
        out += new
        at += size
    return Document(text, tuple(out), document.source)


def _moved(token: Token, start: int) -> Token:
    return replace(token, start=start, end=start + len(token.text))


def _find(
    low: Sequence[str],
    at: int,
    table: Mapping[tuple[str, ...], tuple[_Spelling, ...]],
    longest: int,
) -> tuple[int, tuple[str, ...]]:
    for size in range(min(longest, len(low) - at), 0, -1):
        for spelling in table.get(tuple(low[at : at + size]), ()):
            around = {*low[max(0, at - REACH) : at], *low[at + size : at + size + REACH]}
            if not spelling.near or spelling.near & around:
                return size, spelling.right
    return 1, ()


def _replaced(text: str, heard: Sequence[Token], right: Sequence[str], start: int) -> list[Token]:
    """The right words, each over its share of what was heard."""
    words = text[heard[0].start : heard[-1].end]
    out = []
    for number, word in enumerate(right):
        mine = heard[min(number, len(heard) - 1)]
        last = heard[-1] if number == len(right) - 1 else mine
        origin = (mine.origin[0], last.origin[1])
        out.append(Token(word, word, start, start + len(word), mine.sentence, origin, words))
        start += len(word) + 1
    return out
