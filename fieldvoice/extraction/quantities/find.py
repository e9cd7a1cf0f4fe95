"""Find every number in a text and say what it is: the scan over the tokens."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from fieldvoice.extraction.quantities.amounts import Amount, read_amount, read_unit
from fieldvoice.extraction.quantities.context import around
from fieldvoice.extraction.quantities.marks import is_label, is_pronoun, read_clock, read_year
from fieldvoice.extraction.quantities.model import Quantity, Shape
from fieldvoice.extraction.quantities.numbers import CARDINALS, DENOMINATORS, TENS
from fieldvoice.extraction.quantities.pairs import Ratio, read_range, read_ratio
from fieldvoice.extraction.quantities.tokens import Token, low_at, tokenize
from fieldvoice.extraction.quantities.vocabulary import Vocabulary, vocabulary

_Found = tuple[int, Quantity]  # the token to go on from, and what was found
_DECADES = {w[:-1] + "ies": float(n) for w, n in TENS.items()}
_PARTS_OF_DECADE = {
    "mid": (5, 5), "middle": (5, 5), "low": (1, 4), "lower": (1, 4), "early": (1, 4),
    "high": (6, 9), "upper": (6, 9), "late": (6, 9), "the": (0, 9),
}  # fmt: skip
_OF_WHOLE = ("the", "my", "those", "these", "this", "them", "its", "their", "our")
_HALFWAY = ("about", "down", "than", "by", "only", "at", "roughly", "maybe", "over", "around", "is")


def find_quantities(text: str, words: Vocabulary | None = None) -> tuple[Quantity, ...]:
    """Every number said in a text, in order and without overlap.

    Values have a shape of VALUE_SHAPES; times of day, years, ordinals and the numbers of
    hives and frames are given too, so that nobody takes them for an amount.

    >>> [(q.said, q.lo, q.unit) for q in find_quantities("Gave hive 3 a quart of two to one.")]
    [('3', 3.0, None), ('a quart', 1.0, 'quart'), ('two to one', 2.0, 'sugar:water')]
    """
    words = words or vocabulary()
    tokens = tokenize(text)
    out: list[Quantity] = []
    at = 0
    while at < len(tokens):
        hit = _at(text, tokens, at, words) if _may_start(tokens[at], words) else None
        if hit is None:
            at += 1
            continue
        out.append(_inherit(hit[1], out, text))
        at = hit[0]
    return tuple(out)


_OPENERS = (
    frozenset(
        [
            "a",
            "an",
            "another",
            "half",
            "quarter",
            "couple",
            "dozen",
            "point",
            "minus",
            "plus",
            "negative",
            "equal",
            "between",
            "pair",
            "from",
            "one",
        ]
    )
    | frozenset(CARDINALS)
    | frozenset(DENOMINATORS)
    | frozenset(_PARTS_OF_DECADE)
)


def _may_start(token: Token, words: Vocabulary) -> bool:
    if token.kind == "word":
        low = token.low
        return (
            low in _OPENERS
            or low in words.sounds_like
            or low in words.names
            or low.endswith(("th", "st", "nd", "rd", "ond"))
        )
    return token.kind != "mark" or token.low in "-−"


def _at(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> _Found | None:
    if (ratio := read_ratio(tokens, at, words)) is not None:
        return _ratio(text, tokens, ratio, words)
    for read, shape in _MARKS:
        if (mark := read(tokens, at)) is not None:
            return mark[0], _marked(text, tokens, (at, mark[0]), mark[1], shape)
    if low_at(tokens, at) in _PARTS_OF_DECADE:
        return _decade(text, tokens, at, words)
    if _slash_date(tokens, at):
        return None
    start = at + (low_at(tokens, at) in ("between", "from"))
    amount = read_amount(tokens, start, words)
    if (
        amount
        and amount.unit is None
        and amount.end == start + 1
        and is_pronoun(tokens, start, words)
    ):
        return None
    if amount is None:
        return _misheard(text, tokens, at, words)
    if amount.kind == "ordinal":
        span = (amount.first, amount.end)
        return amount.end, _marked(text, tokens, span, amount.value, "ordinal")
    return (
        _aloud(text, tokens, amount, words)
        or _spread(text, tokens, amount, words)
        or (_single(text, tokens, amount, words) if start == at else None)
    )


_MARKS: tuple[tuple[Callable[[Sequence[Token], int], tuple[int, float] | None], Shape], ...] = (
    (read_clock, "clock"),
    (read_year, "year"),
)


def _marked(
    text: str, tokens: Sequence[Token], span: tuple[int, int], value: float, shape: Shape
) -> Quantity:
    start, end = tokens[span[0]].start, tokens[span[1] - 1].end
    return Quantity(start, end, value, value, None, shape=shape, approx=False, said=text[start:end])


def _ratio(text: str, tokens: Sequence[Token], ratio: Ratio, words: Vocabulary) -> _Found:
    found = _marked(text, tokens, (ratio.first, ratio.end), ratio.value, "ratio")
    context = around(tokens, ratio.first, ratio.end, words)
    return ratio.end, replace(
        found, unit=ratio.unit, approx=context.approx, respelled=ratio.respelled
    )


def _decade(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> _Found | None:
    """ "Mid fifties" is 55, "upper forties" 46 to 49, "the eighties" 80 to 89."""
    low, high = _PARTS_OF_DECADE[low_at(tokens, at)]
    i = at + 1 + (low_at(tokens, at + 1) == "-")
    word = low_at(tokens, i)
    base = _DECADES.get(word)
    if (
        base is None
        and tokens[at].low != "the"
        and word.isdecimal()
        and low_at(tokens, i + 1) == "s"
    ):
        base, i = float(word), i + 1
    if base is None:
        return None
    end = i + 1
    hit = read_unit(tokens, end, words, digits=False)
    found = _marked(
        text, tokens, (at, hit[0] if hit else end), base, "measure" if hit else "number"
    )
    return hit[0] if hit else end, replace(
        found, lo=base + low, hi=base + high, unit=hit[1] if hit else None, approx=True
    )


def _slash_date(tokens: Sequence[Token], at: int) -> bool:
    """ "On 5/6", "8/14/2026": a date, whose numbers are for the date grammar."""
    for back in (0, 2, 4):
        k = at - back
        if k < 0 or tokens[at].kind != "digits":
            break
        if (
            low_at(tokens, k + 1) == "/"
            and low_at(tokens, k + 3) == "/"
            and tokens[k].kind == "digits"
        ):
            return True
        cued = low_at(tokens, k - 1) in ("on", "since", "dated", "until", "by")
        if (
            back < 4
            and cued
            and low_at(tokens, k + 1) == "/"
            and low_at(tokens, k + 3) not in ("of", "inch", "full")
        ):
            return tokens[k].kind == "digits"
    return False


def _misheard(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> _Found | None:
    """ "Too mites", "maybe for frames": a word that sounds like a number before a plural."""
    word, after = low_at(tokens, at), low_at(tokens, at + 1)
    if word not in words.sounds_like:
        return None
    value = words.sounds_like[word]
    hit = read_unit(tokens, at + 1, words, digits=False) if after.endswith(("s", "feet")) else None
    if word == "too":
        fits = hit is not None or after in words.sets["counted"]
    else:
        guess = low_at(tokens, at - 1) in ("maybe", "about", "roughly", "only", "nearly")
        fits = guess and word in ("for", "to", "ate", "tree") and after in words.sets["counted"]
    if not fits:
        return None
    end = hit[0] if hit else at + 1
    found = _marked(text, tokens, (at, end), value, "measure" if hit else "number")
    approx = around(tokens, at, end, words).approx
    return end, replace(found, unit=hit[1] if hit else None, approx=approx, respelled=True)


def _aloud(text: str, tokens: Sequence[Token], first: Amount, words: Vocabulary) -> _Found | None:
    """Counting aloud, "one, two, three ... nine": the last number counts."""
    if first.kind not in ("cardinal", "digits") or first.unit:
        return None
    values, end, i, dots = [first.value], first.end, first.end, False
    while low_at(tokens, i) in (",", "...", "…", "-"):
        dots |= low_at(tokens, i) in ("...", "…")
        i += 1
        if low_at(tokens, i) in (",", "...", "…"):
            continue
        following = read_amount(tokens, i, words)
        step = following.value - values[-1] if following else 0
        if (
            following is None
            or following.kind not in ("cardinal", "digits")
            or step < 1
            or (step > 1 and not dots)
        ):
            break
        values.append(following.value)
        end = i = following.end
        if following.unit:
            break
    counting = len(values) >= 3 and (values[0] == 1 or dots)
    if not counting or is_label(tokens, first.first, first.end, words):
        return None
    hit = read_amount(tokens, end - 1, words)
    found = _marked(text, tokens, (first.first, end), values[-1], "count_aloud")
    return end, replace(found, unit=hit.unit if hit and hit.end == end else None)


def _spread(text: str, tokens: Sequence[Token], first: Amount, words: Vocabulary) -> _Found | None:
    """A range: "six to eight weeks"."""
    spread = read_range(tokens, first, words)
    if spread is None:
        return None
    label = (
        first.unit is None
        and spread.unit is None
        and is_label(tokens, first.first, spread.end, words)
    )
    if is_label(tokens, first.first, first.end, words) and not label:
        return None
    shape: Shape = "label" if label else "container" if spread.container else "number"
    if shape == "number" and spread.unit:
        shape = "measure"
    unit = spread.unit
    if unit is None and spread.hi <= 1 and _fraction_words(tokens, first):
        unit, shape = "1", "share"
    found = _marked(text, tokens, (spread.first, spread.end), spread.lo, shape)
    context = around(tokens, spread.first, spread.end, words)
    return spread.end, replace(
        found, hi=spread.hi, unit=unit, approx=spread.approx or context.approx
    )


def _fraction_words(tokens: Sequence[Token], amount: Amount) -> bool:
    return amount.kind == "fraction"


def _single(text: str, tokens: Sequence[Token], amount: Amount, words: Vocabulary) -> _Found | None:
    shape: Shape = "measure" if amount.unit else "number"
    unit = amount.unit
    if amount.container:
        shape = "container"
    elif unit is None:
        if is_label(tokens, amount.first, amount.end, words):
            span = (amount.first, amount.end)
            return amount.end, _marked(text, tokens, span, amount.value, "label")
        if one_in := _one_in(tokens, amount, words):
            found = _marked(text, tokens, (amount.first, one_in[0]), one_in[1], "share")
            return one_in[0], replace(found, unit="1")
        if amount.kind == "fraction":
            reading = _fraction(tokens, amount, words)
            if reading is None:
                return None
            shape, unit = reading
    elif unit == "percent" and low_at(tokens, amount.end) in words.sets["share_words"]:
        shape = "share"
    context = around(tokens, amount.first, amount.end, words, measured=unit is not None)
    first, end = context.first, context.end
    found = _marked(text, tokens, (first, end), amount.value, shape)
    return max(end, amount.end), replace(
        found, unit=unit, approx=amount.approx or context.approx, bound=context.bound,
        respelled=amount.respelled,
    )  # fmt: skip


def _one_in(tokens: Sequence[Token], amount: Amount, words: Vocabulary) -> tuple[int, float] | None:
    """ "One in ten cells" is a share of 0.1."""
    if (
        amount.value != 1
        or low_at(tokens, amount.first) != "one"
        or low_at(tokens, amount.end) != "in"
    ):
        return None
    whole = read_amount(tokens, amount.end + 1, words)
    if whole is None or whole.unit or whole.kind != "cardinal" or whole.value < 2:
        return None
    return whole.end, 1 / whole.value


def _fraction(
    tokens: Sequence[Token], amount: Amount, words: Vocabulary
) -> tuple[Shape, str | None] | None:
    """What a fraction without a unit is: a share, part of a thing, or no number."""
    after, then = low_at(tokens, amount.end), low_at(tokens, amount.end + 1)
    counted = words.sets["counted"]
    if after in ("a", "an") or (after == "of" and then in ("a", "an", "one")):
        return "number", None
    if after in words.sets["share_words"] or after == "of":
        return "share", "1"
    word = low_at(tokens, amount.end - 1)
    if after in counted or after + "s" in counted or after + "es" in counted:
        return "number", None
    named = tokens[amount.first].low not in ("a", "an", "another", "half", "quarter")
    if named or (word == "half" and after in _OF_WHOLE):
        return "share", "1"
    closes = not after or tokens[amount.end].kind == "mark"
    if word in ("half", "quarter") and closes and low_at(tokens, amount.first - 1) in _HALFWAY:
        return "share", "1"
    return None


def _inherit(found: Quantity, before: Sequence[Quantity], text: str) -> Quantity:
    """ "1/8 inch on the left, 3/8 on the right": a written fraction takes the unit said before."""
    if found.shape != "share" or "/" not in found.said or not before:
        return found
    last = before[-1]
    same = "/" in last.said and last.shape == "measure" and "." not in text[last.end : found.start]
    return replace(found, unit=last.unit, shape="measure") if same else found
