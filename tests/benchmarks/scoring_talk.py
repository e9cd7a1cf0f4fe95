"""Errors of a transcript against what was said: words, numbers, labels, and their flags."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import jiwer
from whisper.normalizers import EnglishTextNormalizer

from fieldvoice.types import Transcript

_NORMAL = EnglishTextNormalizer()


@dataclass(slots=True)
class Score:
    """Counts that can be added up over recordings."""

    words: int = 0
    word_errors: int = 0
    numbers: int = 0
    numbers_wrong: int = 0
    numbers_wrong_flagged: int = 0
    numbers_right_flagged: int = 0
    labels: int = 0
    labels_wrong: int = 0
    labels_wrong_flagged: int = 0
    labels_right_flagged: int = 0
    terms: int = 0
    terms_found: int = 0
    misses: list[tuple[str, str, str]] = field(default_factory=list)

    def __add__(self, other: Score) -> Score:
        return Score(
            *(getattr(self, name) + getattr(other, name) for name in self.__dataclass_fields__)
        )


def tokens(text: str) -> list[str]:
    """Whisper's English normaliser, a clause at a time, letters and digits of a label apart.

    Over a whole text it would join "hive eight. Three hundred" to one number; and it takes
    pounds for money.
    """
    text = re.sub(r"\bpound(s?)\b", r"lb\1", text)
    text = re.sub(r"(\d):(\d)", r"\1 to \2", text)
    clauses = re.split(r"(?<=[.,;:?!])\s+", text)
    flat = " ".join(_NORMAL(clause.strip()) for clause in clauses)
    flat = re.sub(r"\b([a-z])(\d+)\b", r"\1 \2", flat)
    return flat.replace("nuke", "nuc").split()


def said_tokens(marked: str) -> tuple[list[str], list[tuple[int, int]]]:
    """Reference tokens, and [first, last) of each label in braces."""
    out: list[str] = []
    places = []
    for i, part in enumerate(re.split(r"\{(.*?)\}", marked)):
        start = len(out)
        out += tokens(part)
        if i % 2:
            places.append((start, len(out)))
    return out, places


def score(marked: str, transcript: Transcript, terms: frozenset[str] = frozenset()) -> Score:
    """Compare; a wrong number or label counts as flagged if a doubt or unheard stretch is there."""
    said, places = said_tokens(marked)
    heard, spans = _heard_tokens(transcript)
    aligned = jiwer.process_words(" ".join(said), " ".join(heard) or "-")
    match: dict[int, int] = {}
    span_of: dict[int, tuple[int, int]] = {}
    for chunk in aligned.alignments[0]:
        for i in range(chunk.ref_start_idx, chunk.ref_end_idx):
            step = i - chunk.ref_start_idx
            if chunk.type == "equal":
                match[i] = chunk.hyp_start_idx + step
            span_of[i] = (max(0, chunk.hyp_start_idx - 1), chunk.hyp_end_idx + 1)
            if chunk.type in ("equal", "substitute"):
                span_of[i] = (chunk.hyp_start_idx + step, chunk.hyp_start_idx + step + 1)
    result = Score(
        words=len(said),
        word_errors=aligned.substitutions + aligned.deletions + aligned.insertions,
        terms=sum(t in terms for t in said),
        terms_found=sum(t in terms and i in match for i, t in enumerate(said)),
    )
    labelled = {i for first, last in places for i in range(first, last)}
    for first, last in places:
        right = _label_right(first, last, said, heard, match)
        flagged = any(_flagged(span_of[i], spans, transcript) for i in range(first, last))
        result.labels += 1
        result.labels_wrong += not right
        result.labels_wrong_flagged += not right and flagged
        result.labels_right_flagged += right and flagged
        if not right:
            a, b = span_of[first][0], span_of[last - 1][1]
            result.misses.append(
                (" ".join(said[first:last]), " ".join(heard[max(0, a - 2) : b + 2]),
                 "flagged" if flagged else "silent")
            )  # fmt: skip
    for i, token in enumerate(said):
        if token.isdigit() and i not in labelled:
            flagged = _flagged(span_of[i], spans, transcript)
            result.numbers += 1
            result.numbers_wrong += i not in match
            result.numbers_wrong_flagged += i not in match and flagged
            result.numbers_right_flagged += i in match and flagged
            if i not in match:
                a, b = span_of[i]
                result.misses.append(
                    (f"{said[i - 1] if i else ''} {token}", " ".join(heard[max(0, a - 2) : b + 2]),
                     "flagged" if flagged else "silent")
                )  # fmt: skip
    return result


def _label_right(
    first: int, last: int, said: list[str], heard: list[str], match: dict[int, int]
) -> bool:
    """All of its tokens were heard, side by side, and not as a part of a longer number."""
    found = [match.get(i) for i in range(first, last)]
    if any(f is None for f in found):
        return False
    run = [f for f in found if f is not None]
    if run != list(range(run[0], run[0] + len(run))):
        return False
    before = heard[run[0] - 1] if run[0] else ""
    return not (
        len(before) == 1
        and before.isalpha()
        and said[first].isdigit()
        and before not in said[max(0, first - 1) : first]
    )


def _heard_tokens(transcript: Transcript) -> tuple[list[str], list[tuple[float, float]]]:
    """Normalised tokens with the time of the clause they are in, word by word where possible."""
    out: list[str] = []
    spans: list[tuple[float, float]] = []
    clause: list = []
    for word in [w for s in transcript.segments for w in s.words]:
        clause.append(word)
        if word.word[-1:] in ".,;:?!":
            _close(clause, out, spans)
            clause = []
    _close(clause, out, spans)
    return out, spans


def _close(clause: list, out: list[str], spans: list[tuple[float, float]]) -> None:
    """Give each normalised token of a clause the time of the word it came from."""
    whole = tokens(" ".join(w.word for w in clause))
    single = [(t, w) for w in clause for t in tokens(w.word)]
    if [t for t, _ in single] == whole:
        spans += [(w.start, w.end) for _, w in single]
    else:  # words were joined to one number, or a contraction was opened
        spans += [(clause[0].start, clause[-1].end)] * len(whole)
    out += whole


def _flagged(
    span: tuple[int, int], spans: list[tuple[float, float]], transcript: Transcript
) -> bool:
    inside = spans[max(0, span[0]) : span[1]]
    if not inside:
        return False
    start, end = min(s for s, _ in inside), max(e for _, e in inside)
    marked = [*transcript.doubts, *transcript.unheard]
    return any(m.start < end and m.end > start for m in marked)
