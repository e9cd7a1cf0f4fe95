"""Find every number in a text and say what it is: the scan over the tokens."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fieldvoice.extraction.quantities.amounts import read_amount
from fieldvoice.extraction.quantities.clock import read_clock, read_year
from fieldvoice.extraction.quantities.decades import PARTS_OF_DECADE, read_decade
from fieldvoice.extraction.quantities.marks import is_pronoun, is_slash_date
from fieldvoice.extraction.quantities.misheard import read_misheard
from fieldvoice.extraction.quantities.model import Quantity, Shape
from fieldvoice.extraction.quantities.reading import Found, quote
from fieldvoice.extraction.quantities.series import read_aloud, read_mix, read_spread
from fieldvoice.extraction.quantities.singles import inherit_unit, read_single
from fieldvoice.extraction.quantities.tokens import Token, low_at, tokenize
from fieldvoice.extraction.quantities.vocabulary import Vocabulary, vocabulary
from fieldvoice.number_words import CARDINALS, DENOMINATORS


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
        out.append(inherit_unit(hit[1], out, text, words))
        at = hit[0]
    return tuple(out)


_OPENERS = (
    {"a", "an", "another", "half", "hundred", "thousand", "quarter", "couple", "dozen", "point"}
    | {"minus", "plus", "negative", "equal", "between", "pair", "from", "one"}
    | set(CARDINALS)
    | set(DENOMINATORS)
    | set(PARTS_OF_DECADE)
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


def _at(text: str, tokens: Sequence[Token], at: int, words: Vocabulary) -> Found | None:
    if (mix := read_mix(text, tokens, at, words)) is not None:
        return mix
    for read, shape in _MARKS:
        if (mark := read(tokens, at)) is not None:
            return mark[0], quote(text, tokens, (at, mark[0]), mark[1], shape)
    if low_at(tokens, at) in PARTS_OF_DECADE:
        return read_decade(text, tokens, at, words)
    if is_slash_date(tokens, at):
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
        return read_misheard(text, tokens, at, words)
    if amount.kind == "ordinal":
        span = (amount.first, amount.end)
        return amount.end, quote(text, tokens, span, amount.value, "ordinal")
    return (
        read_aloud(text, tokens, amount, words)
        or read_spread(text, tokens, amount, words)
        or (read_single(text, tokens, amount, words) if start == at else None)
    )


_MARKS: tuple[tuple[Callable[[Sequence[Token], int], tuple[int, float] | None], Shape], ...] = (
    (read_clock, "clock"),
    (read_year, "year"),
)
