"""Hive labels in a narration: every place where one may be named.

This finds candidates, generously; which hive a fact is about is decided later, with
the whole sentence in view. Labels are matched against the register first, so that
"hive ate" is 8 where there is an 8, and "hive forty" is unknown where there is none.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fieldvoice.extraction.document import Document, Token
from fieldvoice.extraction.integers import UNITS, read_integer
from fieldvoice.number_words import TENS
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Register


@dataclass(frozen=True, slots=True)
class Mention:
    """A place where hives are named: one label, a list, a range, or "both"."""

    first: int  # token
    last: int  # one past the last token
    labels: tuple[str, ...]  # empty for a group word until it is resolved
    how: str  # "cue", "bare", or the group: "both", "all", "rest", "next", "counted"
    respelled: bool = False
    unknown: bool = False


@dataclass(frozen=True, slots=True)
class _Hit:
    last: int
    label: str
    respelled: bool


def find_labels(document: Document, register: Register) -> tuple[Mention, ...]:
    """All mentions, in order, lists and ranges joined."""
    low = [t.low for t in document.tokens]
    forms = _forms(register)
    singles: list[Mention] = []
    at = 0
    while at < len(low):
        mention = (
            _part_of_register(low, at, register)
            or _group(low, at)
            or _mention(document.tokens, low, at, forms, register)
        )
        if mention:
            singles.append(mention)
            at = mention.last
            while further := _goes_on(singles[-1], low, at, register):
                singles.append(further)
                at = further.last
        else:
            at += 1
    return tuple(_but(m, low, register) for m in _joined(singles, low, register))


# --- how each label of the register may be said ------------------------------

_PARTS = re.compile(r"\d+|[A-Za-z]+")


@dataclass(frozen=True, slots=True)
class _Form:
    label: str
    parts: tuple[str, ...]
    alone: bool = False  # "the nuc": not if a number follows


def _forms(register: Register) -> tuple[_Form, ...]:
    named = [(label, label) for label in register.labels]
    named += [(alias, label) for alias, label in register.aliases.items()]
    forms = [_Form(label, tuple(_PARTS.findall(said))) for said, label in named]
    forms += [_Form(label, (word,), alone=True) for word, label in _only_ones(register)]
    forms += [_Form(label, (number,)) for number, label in _only_numbers(register)]
    forms += [_Form(label, (letter,)) for letter, label in _only_letters(register)]
    return tuple(sorted((f for f in forms if f.parts), key=lambda f: -len(f.parts)))


def _only_ones(register: Register) -> list[tuple[str, str]]:
    """ "The nuc" is enough where the register has one whose label starts so."""
    words: dict[str, list[str]] = {}
    for label in register.labels:
        first = (label.split() or [label])[0]
        if first != label and first.lower() in trade_file("labels")["words"]:
            words.setdefault(first, []).append(label)
    return [(word, labels[0]) for word, labels in words.items() if len(labels) == 1]


def _only_numbers(register: Register) -> list[tuple[str, str]]:
    """ "Five" is "yard 5" where no other label has a five and none is a number alone."""
    if any(label.isdecimal() for label in register.labels):
        return []
    numbers: dict[str, list[str]] = {}
    for label in register.labels:
        if found := re.fullmatch(r"\D+(\d+)", label):
            numbers.setdefault(found[1], []).append(label)
    return [(number, labels[0]) for number, labels in numbers.items() if len(labels) == 1]


def _only_letters(register: Register) -> list[tuple[str, str]]:
    """ "D" is "nuc D" where no other label ends so."""
    letters: dict[str, list[str]] = {}
    for label in register.labels:
        if found := re.fullmatch(r"(?:.* )?([A-Z])", label):
            letters.setdefault(found[1], []).append(label)
    return [(k, v[0]) for k, v in letters.items() if len(v) == 1 and v[0] != k]


def _match(
    form: _Form, tokens: Sequence[Token], low: list[str], at: int, *, cued: bool
) -> _Hit | None:
    respelled = False
    for number, part in enumerate(form.parts):
        if at < len(low) and low[at] == "-" and number:
            at += 1
        if at >= len(low):
            return None
        glued = _PARTS.findall(tokens[at].text)
        if number == 0 and len(glued) == len(form.parts) > 1 and _same(glued, form.parts):
            return _Hit(at + 1, form.label, respelled=False)
        step = _part(part, form, tokens, low, at, cued=cued or number > 0)
        if step is None:
            return None
        at, changed = step
        respelled |= changed
    if form.alone and at < len(low) and (read_integer(low, at) or low[at] in _NUMBERED):
        return None
    return _Hit(at, form.label, respelled)


def _same(got: Sequence[str], parts: Sequence[str]) -> bool:
    return [g.lower() for g in got] == [p.lower() for p in parts]


def _part(
    part: str, form: _Form, tokens: Sequence[Token], low: list[str], at: int, *, cued: bool
) -> tuple[int, bool] | None:
    """Match one part of a label at a token: (next token, was it misheard)."""
    spoken = trade_file("labels")
    word = low[at]
    if part.isdecimal():
        number = read_integer(low, at)
        if number and number[0] == int(part):
            return at + number[1], False
        if hundreds := _hundreds(int(part), low, at):
            return hundreds, False
        if _after_tens(int(part), low, at):
            return at + 2, True
        misheard = spoken["numbers" if cued else "opening"].get(part, [])
        return (at + 1, True) if word in misheard else None
    if len(part) == 1:
        return _letter(part, form, tokens, low, at, cued=cued)
    if word == part.lower():
        return at + 1, False
    return (
        (at + 1, word not in spoken["words"].get(part.lower(), [])[:3])
        if word in spoken["words"].get(part.lower(), [])
        else None
    )


def _hundreds(number: int, low: list[str], at: int) -> int | None:
    """ "One ten" is 110, "hundred and four" 104: the next token, or None."""
    if not 100 <= number < 1000:
        return None
    first = UNITS.get(low[at]) if low[at] != "hundred" else 1
    at += low[at] != "hundred"
    if first != number // 100 or at >= len(low):
        return None
    if named := low[at] == "hundred":
        at += 1 + (low[at + 1 : at + 2] == ["and"])
    rest = read_integer(low, at) if at < len(low) else None
    if rest is None or rest[0] != number % 100 or (rest[0] < 10 and not named):
        return None
    return at + rest[1]


def _after_tens(number: int, low: list[str], at: int) -> bool:
    """ "Sixty won" is 61: behind a ten a misheard one can be nothing else."""
    tens, ones = TENS.get(low[at]), number % 10
    if tens is None or tens + ones != number or not ones:
        return False
    return at + 1 < len(low) and low[at + 1] in trade_file("labels")["numbers"].get(str(ones), [])


def _letter(
    part: str, form: _Form, tokens: Sequence[Token], low: list[str], at: int, *, cued: bool
) -> tuple[int, bool] | None:
    text = tokens[at].text
    if text == part.upper() and (
        text not in ("A", "I")
        or cued
        or len(form.parts) > 1
        or at + 1 >= len(low)
        or low[at + 1] in _AFTER_LETTER
    ):
        return at + 1, False
    alone = len(form.parts) == 1
    if text.lower() == part.lower() and (cued or not alone):
        return at + 1, False
    if not alone and low[at] in trade_file("labels")["letters"].get(part.upper(), []):
        return at + 1, True
    return None


_NUMBERED = {"to", "too", "for", "won", "ate"}  # numbers as recognisers write them
_AFTER_LETTER = {
    ".",
    ",",
    "'s",
    "and",
    "is",
    "has",
    "had",
    "on",
    "got",
    "gets",
    ":",
    "-",
    "?",
    "needs",
    "was",
    "with",
}


# --- single mentions ----------------------------------------------------------


def _mention(
    tokens: Sequence[Token], low: list[str], at: int, forms: Sequence[_Form], register: Register
) -> Mention | None:
    spoken = trade_file("labels")
    start, cue = at, ""
    if low[at] in spoken["cues"]:
        start, cue = at + 1, "cue"
    elif low[at] in spoken["misheard_cues"]:
        start, cue = at + 1, "misheard"
    if (
        start < len(low)
        and cue
        and low[start] in {"number", "no", ",", "-", "."}
        and start + 1 < len(low)
    ):
        start += 1 + (low[start] == "no" and low[start + 1] == ".")
    if start >= len(low):
        return None
    hit = _best(forms, tokens, low, start, cued=bool(cue))
    if hit and (cue or _stands_alone(tokens, low, at, hit)):
        how = "cue" if cue else "bare"
        return Mention(at, hit.last, (hit.label,), how, hit.respelled or cue == "misheard")
    return _unknown(tokens, low, at, start, cue=cue, register=register)


def _best(
    forms: Sequence[_Form], tokens: Sequence[Token], low: list[str], at: int, *, cued: bool
) -> _Hit | None:
    hits = [h for form in forms if (h := _match(form, tokens, low, at, cued=cued))]
    return max(hits, key=lambda h: (h.last, not h.respelled), default=None)


def _stands_alone(tokens: Sequence[Token], low: list[str], at: int, hit: _Hit) -> bool:
    before = low[at - 1] if at else "."
    if hit.respelled and not hit.label[:1].isalpha():
        return before in _OPENS
    word = low[at]
    if read_integer(low, at) is not None or len(word) == 1:
        return not (word == "one" and before in trade_file("labels")["not_after"]["words"])
    return True


_OPENS = {
    ".",
    "?",
    "!",
    "...",
    ",",
    "and",
    "okay",
    "right",
    "now",
    "so",
    "then",
    "on",
    "from",
    "in",
    "into",
}


def _unknown(
    tokens: Sequence[Token], low: list[str], at: int, start: int, *, cue: str, register: Register
) -> Mention | None:
    """A label that is announced but not in the register."""
    if not cue and _like_the_register(tokens[at].text, register):
        return Mention(at, at + 1, (tokens[at].text,), "bare", unknown=True)
    nuc = low[at] in trade_file("labels")["words"]["nuc"][:5]
    if cue != "cue" and not nuc:
        return None
    number = (
        read_integer(low, at + 1 if nuc else start)
        if (at + 1 if nuc else start) < len(low)
        else None
    )
    if number:
        label = f"nuc {number[0]}" if nuc else str(number[0])
        last = (at + 1 if nuc else start) + number[1]
        return Mention(at, last, (label,), "cue", unknown=True)
    text = tokens[start].text
    if not nuc and re.fullmatch(r"[B-HJ-Z]|[A-Z]-?\d{1,3}", text):
        return Mention(at, start + 1, (text.replace("-", ""),), "cue", unknown=True)
    return None


def _goes_on(last: Mention, low: list[str], at: int, register: Register) -> Mention | None:
    """ "Hilltop one and three": the word of the first label stands for the second as well."""
    made = re.fullmatch(r"(\D+)\d+", last.labels[-1]) if last.labels else None
    if made is None or at + 1 >= len(low) or low[at] not in {"and", "&", ","} | _THROUGH:
        return None
    number = read_integer(low, at + 1)
    label = f"{made[1]}{number[0]}" if number else ""
    if number is None or label not in register.labels or str(number[0]) in register.labels:
        return None
    if low[at] == "," and low[at + 1 + number[1] : at + 2 + number[1]] not in (["and"], [","]):
        return None
    return Mention(at + 1, at + 1 + number[1], (label,), last.how)


def _like_the_register(text: str, register: Register) -> bool:
    """ "B11" where there are B7 to B10: a label of the same make that is not there."""
    if not re.fullmatch(r"[A-Z]\d{1,3}", text):
        return False
    return any(re.fullmatch(rf"{text[0]}\d{{1,3}}", label) for label in register.labels)


# --- lists, ranges, groups ----------------------------------------------------


def _group(low: list[str], at: int) -> Mention | None:
    best: Mention | None = None
    for how, sayings in trade_file("labels")["groups"].items():
        for saying in sayings:
            words = saying.split()
            if low[at : at + len(words)] == words and (best is None or at + len(words) > best.last):
                best = Mention(at, at + len(words), (), how)
    return best


def _part_of_register(low: list[str], at: int, register: Register) -> Mention | None:
    """ "The evens", "both nucs", "all the top hives": labels that are alike, or None."""
    words = trade_file("labels")["parts"]
    for parity, saying in enumerate((words["even"], words["odd"])):
        for said in saying:
            size = len(said.split())
            if low[at : at + size] == said.split():
                labels = [x for x in register.labels if x.isdecimal() and int(x) % 2 == parity]
                return Mention(at, at + size, tuple(labels), "counted") if labels else None
    i = at + 1
    if low[at : at + 1] not in (["both"], ["all"], ["the"]) or i >= len(low):
        return None
    i += low[at] != "the" and low[i] in ("the", "of", "my")
    i += i < len(low) and low[i] in ("the", "my")
    said = low[i] if i < len(low) else ""
    after = low[i + 1 : i + 2] in (["hives"], ["ones"])
    plural = said.endswith("s")
    if not (after or plural):
        return None
    word = said if after else said[:-1]
    spellings = {word, *(k for k, v in trade_file("labels")["words"].items() if word in v)}
    labels = [x for x in register.labels if " " in x and x.split()[0].lower() in spellings]
    if len(labels) < 2 or (low[at] == "both" and len(labels) != 2):
        return None
    return Mention(at, i + 1 + after, tuple(labels), "counted")


def _but(mention: Mention, low: list[str], register: Register) -> Mention:
    """ "All but six" is every hive of the register except 6."""
    words = trade_file("labels")["parts"]
    i = mention.first - 1
    if not mention.labels or i < 1 or low[i] not in words["but"] or low[i - 1] not in words["all"]:
        return mention
    labels = tuple(label for label in register.labels if label not in mention.labels)
    return replace(mention, first=i - 1, labels=labels, how="counted") if labels else mention


_JOINS = {",", "and", "&", "or", "then", "plus"}
_THROUGH = {"through", "to", "till", "thru", "-", "–", "until"}


def _joined(singles: Sequence[Mention], low: list[str], register: Register) -> list[Mention]:
    """Join "4, 5 and 6" and "four through six" into one mention each."""
    out: list[Mention] = []
    for mention in singles:
        last = out[-1] if out else None
        if last and last.labels and mention.labels:
            between = low[last.last : mention.first]
            if (
                len(between) == 1
                and between[0] in _THROUGH
                and (run := _run(last, mention, register))
            ):
                out[-1] = replace(last, last=mention.last, labels=(*last.labels[:-1], *run))
                continue
            if (
                between
                and len(between) <= 2
                and set(between) <= _JOINS
                and _listable(last, mention, low)
            ):
                out[-1] = replace(
                    last,
                    last=mention.last,
                    labels=(*last.labels, *mention.labels),
                    respelled=last.respelled or mention.respelled,
                    unknown=last.unknown or mention.unknown,
                )
                continue
        out.append(mention)
    return out


def _listable(left: Mention, right: Mention, low: list[str]) -> bool:
    """A comma alone joins bare labels to a list only if the list goes on or a cue was plural."""
    if set(left.labels) & set(right.labels) or (right.how == "cue" and left.how != "cue"):
        return False
    if "and" in low[left.last : right.first] or "&" in low[left.last : right.first]:
        return True
    after = low[right.last : right.last + 2]
    return bool({"and", "&", "through", ","} & set(after)) or len(left.labels) > 1


def _run(left: Mention, right: Mention, register: Register) -> tuple[str, ...]:
    """The labels from one to the other, in the order of the register."""
    a, b = left.labels[-1], right.labels[0]
    order = list(register.labels)
    if a in order and b in order and order.index(a) < order.index(b):
        return tuple(order[order.index(a) : order.index(b) + 1])
    x, y = re.fullmatch(r"(\D*)(\d+)", a), re.fullmatch(r"(\D*)(\d+)", b)
    if x and y and x[1] == y[1] and int(x[2]) < int(y[2]) <= int(x[2]) + 60:
        return tuple(f"{x[1]}{n}" for n in range(int(x[2]), int(y[2]) + 1))
    return ()
