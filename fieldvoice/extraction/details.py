"""What else a clause says: colour, place, reason, condition, feeder, method, other hives."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldvoice.trade.load import trade_file

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates
    from fieldvoice.extraction.labels import Mention

_END = {",", ".", "?", "!", "...", ";"}


def details_of(
    candidates: Candidates, fact: Fact, span: tuple[int, int], hives: Sequence[str]
) -> dict[str, str]:
    """The rest of what was said in a fact's words, as far as the cues tell."""
    low = [t.low for t in candidates.document.tokens[span[0] : span[1]]]
    cues = trade_file("cues")
    out: dict[str, str] = {}
    if fact.kind in ("queen", "forage", "colony"):
        colour = next((w for w in low if w in cues["colours"] and w not in hives), None)
        if colour:
            out["colour"] = colour
    out |= _clause(low, cues["conditions"], "if") if fact.status == "planned" else {}
    out |= _clause(low, cues["reasons"], "reason")
    if fact.kind == "feed":
        out |= _longest(low, cues["feeders"], "feeder", skip=fact.item)
    if fact.kind in ("treatment", "mites"):
        method = next((m for m, words in cues["methods"].items() if set(words) & set(low)), None)
        if method:
            out["method"] = method
    if fact.recap:
        out["recap"] = fact.recap
    out |= _other_hives(candidates, fact, span, hives)
    return out


def _clause(low: Sequence[str], openers: Sequence[str], key: str) -> dict[str, str]:
    """The words behind an opener up to the end of its clause."""
    for i in range(len(low)):
        for opener in openers:
            words = opener.split()
            if list(low[i : i + len(words)]) == words:
                rest = list(low[i + len(words) :])
                end = next((n for n, w in enumerate(rest) if w in _END), len(rest))
                if end:
                    return {key: _text(rest[:end])}
    return {}


def _text(words: Sequence[str]) -> str:
    return " ".join(words).replace(" '", "'").replace(" n't", "n't").replace(" - ", "-")


def _longest(low: Sequence[str], phrases: Sequence[str], key: str, skip: str) -> dict[str, str]:
    text = f" {' '.join(low)} "
    found = [p for p in phrases if f" {p} " in text and p != skip]
    return {key: max(found, key=len)} if found else {}


def _other_hives(
    candidates: Candidates, fact: Fact, span: tuple[int, int], hives: Sequence[str]
) -> dict[str, str]:
    out: dict[str, str] = {}
    for mention in candidates.mentions:
        inside = span[0] <= mention.first < span[1]
        if not inside or not mention.labels or set(mention.labels) & set(hives):
            continue
        direction = _direction(candidates, mention)
        if direction:
            out.setdefault(direction, ", ".join(mention.labels))
    return out


def _direction(candidates: Candidates, mention: Mention) -> str | None:
    cues = trade_file("cues")
    before = [t.low for t in candidates.document.tokens[max(0, mention.first - 2) : mention.first]]
    joined = " ".join(before)
    if any(joined.endswith(cue) for cue in cues["from_hive"]):
        return "source_hive"
    if any(joined.endswith(cue) for cue in cues["to_hive"]):
        return "target_hive"
    return None
