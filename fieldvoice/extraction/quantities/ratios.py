"""Ratios as a keeper says them: "two to one", "equal parts", "won to won"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldvoice.extraction.quantities.numbers import read_number
from fieldvoice.extraction.quantities.tokens import DASHES, Token, low_at
from fieldvoice.extraction.quantities.unit_names import read_unit
from fieldvoice.extraction.quantities.vocabulary import Vocabulary

_SENTENCE_ENDS = (".", "?", "!", ";")


_NOT_RATIO_BEFORE = ("from", "between", "down", "dropped", "went", "cut", "shrunk", "reduced")


_CLOSES_RATIO = (
    "for", "by", "in", "on", "with", "and", "at", "i", "to", "the", "this", "but", "going",
    "of", "again", "now", "or", "today", "each", "apiece", "as", "because",
)  # fmt: skip


_TWO = ("two", "too", "to", "2")


_ONE = ("one", "won", "1")


_TO = ("to", "too", "two", "2")


_HEARD = {"two": 2.0, "too": 2.0, "to": 2.0, "2": 2.0, "one": 1.0, "won": 1.0, "1": 1.0}


@dataclass(frozen=True, slots=True)
class Ratio:
    """A ratio over tokens; `value` is first over second."""

    first: int
    end: int
    value: float
    unit: str
    respelled: bool = False


def read_ratio(tokens: Sequence[Token], at: int, words: Vocabulary) -> Ratio | None:
    """The ratio that starts at a token, or None."""
    word, after = low_at(tokens, at), low_at(tokens, at + 1)
    if (word, after) == ("equal", "parts"):
        return Ratio(at, at + 2, 1.0, _ratio_unit(tokens, at, at + 2, words))
    if word == "half" and after == "and" and low_at(tokens, at + 2) == "half":
        return Ratio(at, at + 3, 1.0, _ratio_unit(tokens, at, at + 3, words))
    if word in _HEARD and (found := _misheard(tokens, at, words)):
        return found
    if word in ("fifty", "50") and (even := _fifty_fifty(tokens, at)):
        return Ratio(at, even, 1.0, _ratio_unit(tokens, at, even, words))
    first = read_number(tokens, at)
    if (
        first is None
        or first.kind not in ("cardinal", "digits", "decimal", "mixed")
        or first.value <= 0
    ):
        return None
    if low_at(tokens, first.end) in ("part", "parts"):
        return _of_parts(tokens, at, first.value, first.end + 1, words)
    joint = _joint(tokens, first.end)
    if joint is None:
        return None
    second = read_number(tokens, joint[0])
    if second is None or second.kind not in ("cardinal", "digits", "decimal", "mixed"):
        return None
    if second.value <= 0 or not _is_ratio(
        tokens, at, (first.value, second.value), (joint[1], second.end), words
    ):
        return None
    unit = _ratio_unit(tokens, at, second.end, words)
    return Ratio(at, second.end, first.value / second.value, unit)


def _fifty_fifty(tokens: Sequence[Token], at: int) -> int | None:
    """Where "fifty fifty", "50/50" or "fifty-fifty" ends, or None."""
    i = at + 1 + (low_at(tokens, at + 1) in (*DASHES, "/"))
    return i + 1 if low_at(tokens, i) == tokens[at].low else None


def _joint(tokens: Sequence[Token], at: int) -> tuple[int, str] | None:
    """What joins the two numbers of a ratio: (place of the second, "to", ":" or "-")."""
    word = low_at(tokens, at)
    if word == "to":
        return at + 1, "to"
    if word in DASHES and low_at(tokens, at + 1) == "to":
        return at + 2 + (low_at(tokens, at + 2) in DASHES), "to"
    if word == ":" and at + 1 < len(tokens):
        return at + 1, ":"
    return (at + 1, "-") if word in DASHES else None


def _is_ratio(
    tokens: Sequence[Token],
    at: int,
    pair: tuple[float, float],
    joint: tuple[str, int],
    words: Vocabulary,
) -> bool:
    first, second = pair
    how, end = joint
    if read_unit(tokens, end, words, digits=True) or (
        low_at(tokens, end) in DASHES and read_unit(tokens, end + 1, words, digits=True)
    ):
        return False
    cued = _near(tokens, at, end, words.sets["ratio_words"])
    after = low_at(tokens, end)
    closes = not after or tokens[end].kind == "mark" or after in _CLOSES_RATIO
    closes = closes or after in words.sets["ratio_words"]
    if how == ":":
        return cued or second < 10
    if how == "-":
        return cued and first >= second and second <= 3
    if low_at(tokens, at - 1) in _NOT_RATIO_BEFORE:
        return False
    if first >= second:
        return first <= 20 and second <= 10 and (closes or cued or not after.endswith("s"))
    return cued and closes and first <= 2


def _of_parts(
    tokens: Sequence[Token], at: int, first: float, i: int, words: Vocabulary
) -> Ratio | None:
    """ "Two parts sugar to one of water": up to three words lie between the numbers."""
    for k in range(i, min(i + 5, len(tokens))):
        if tokens[k].low in _SENTENCE_ENDS:
            return None
        second = read_number(tokens, k)
        if second is None or second.kind not in ("cardinal", "digits", "decimal", "mixed"):
            continue
        end = second.end
        parted = low_at(tokens, end) in ("part", "parts")
        end += parted
        if low_at(tokens, end) == "of":
            end += 1
        named = end < len(tokens) and tokens[end].kind == "word" and (parted or end > second.end)
        joined = any(tokens[m].low in ("to", "and", "per") for m in range(i, k))
        if second.value <= 0 or not (parted or named or joined):
            return None
        unit = _ratio_unit(tokens, at, end + 1, words)
        return Ratio(at, end + named, first / second.value, unit)
    return None


def _misheard(tokens: Sequence[Token], at: int, words: Vocabulary) -> Ratio | None:
    """ "Won to won", "too to one", "to to one syrup": both ends sound like one or two."""
    trio = [low_at(tokens, at + k) for k in range(3)]
    known = trio[0] in _TWO + _ONE and trio[1] in _TO and trio[2] in _ONE
    plain = trio[0] in ("two", "one", "2", "1") and trio[1] == "to" and trio[2] in ("one", "1")
    if not known or plain or read_unit(tokens, at + 3, words, digits=True):
        return None
    # "too to one" and "won to won" mean nothing else; the others need the syrup beside them.
    clear = trio[1] == "to" and (trio[0] in ("too", "won") or trio[2] == "won")
    if not clear and not _near(tokens, at, at + 3, words.sets["ratio_words"]):
        return None
    unit = _ratio_unit(tokens, at, at + 3, words)
    return Ratio(at, at + 3, _HEARD[trio[0]] / _HEARD[trio[2]], unit, respelled=True)


def _near(
    tokens: Sequence[Token], first: int, end: int, cues: frozenset[str], *, reach: int = 10
) -> bool:
    """Whether one of the cue words stands in the same sentence, at most `reach` words away."""
    for k in range(end, min(end + reach, len(tokens))):
        if tokens[k].low in _SENTENCE_ENDS:
            break
        if tokens[k].low in cues:
            return True
    for k in range(first - 1, max(first - reach - 1, -1), -1):
        if tokens[k].low in _SENTENCE_ENDS:
            break
        if tokens[k].low in cues:
            return True
    return False


def _ratio_unit(tokens: Sequence[Token], first: int, end: int, words: Vocabulary) -> str:
    cues = words.sets["ratio_other"]
    inside = any(token.low in cues for token in tokens[first:end])
    other = inside or _near(tokens, first, end, cues, reach=3)
    sugar = _near(tokens, first, end, frozenset(("syrup", "sugar", "feed", "fed", "feeder")))
    return "part:part" if other and not sugar else "sugar:water"
