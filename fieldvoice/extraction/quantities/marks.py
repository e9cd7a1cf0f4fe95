"""Numbers that name a thing or a day and are no amount: "hive twelve", "that one", "on 5/6"."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.extraction.quantities.tokens import Token, low_at
from fieldvoice.extraction.quantities.vocabulary import Vocabulary

_DETERMINERS = ("this", "that", "the", "a", "each", "every", "per", "my")


def is_label(tokens: Sequence[Token], first: int, end: int, words: Vocabulary) -> bool:
    """Whether a bare number names a thing: "hive twelve", "frame six", "number 41", "seven's"."""
    if low_at(tokens, end) == "'s":
        return True
    before = low_at(tokens, first - 1)
    if before == "#":
        return True
    if before not in words.sets["label_nouns"]:
        return False
    led = low_at(tokens, first - 2)  # "in this hive two frames": the noun is not the number's
    if before in words.sets["label_nouns_weak"] or led in _DETERMINERS:
        counts = low_at(tokens, end) in words.sets["counted"]
        return not counts and led not in ("per", "a", "each", "every", "last", "next", "this")
    return True


def is_pronoun(tokens: Sequence[Token], at: int, words: Vocabulary) -> bool:
    """Whether "one" stands for a thing and does not count: "that one", "one of them"."""
    if low_at(tokens, at) != "one":
        return False
    before, after = low_at(tokens, at - 1), low_at(tokens, at + 1)
    if before == "the" and low_at(tokens, at - 2) in ("just", "only"):
        return False
    if before in words.sets["one_is_a_thing_after"]:
        owned = before in ("only", "first", "a", "her", "his", "my", "their")
        return not (owned and after + "s" in words.sets["counted"])
    if after in words.sets["one_is_a_thing_before"]:
        return True
    return after == "more" and low_at(tokens, at + 2) in words.sets["not_counted"]


def is_slash_date(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number belongs to "on 5/6" or "8/14/2026", which the date grammar reads."""
    if tokens[at].kind != "digits":
        return False
    for first in (at, at - 2, at - 4):
        if first < 0 or tokens[first].kind != "digits" or low_at(tokens, first + 1) != "/":
            continue
        if low_at(tokens, first + 3) == "/":
            return True
        cued = low_at(tokens, first - 1) in ("on", "since", "dated", "until", "by")
        whole = low_at(tokens, first + 3) in ("of", "inch", "full")
        if first >= at - 2 and cued and not whole:
            return True
    return False
