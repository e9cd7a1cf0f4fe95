"""Why a row says what it says: the words and the score behind each field."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldvoice.types import Because

if TYPE_CHECKING:
    from fieldvoice.extraction.assemble import Fact
    from fieldvoice.extraction.candidates import Candidates


def because(candidates: Candidates, fact: Fact, hive: str | None) -> tuple[Because, ...]:
    """One reason per field of the row."""
    words = candidates.document.said
    at = words(fact.anchor, fact.anchor + 1)
    out = [Because("row", at, "these words state a fact", fact.sure["anchor"])]
    out += [
        Because(name, at, f"{name} of the fact", fact.sure[name])
        for name in ("kind", "action", "status", "item")
    ]
    if fact.mention:
        said = words(fact.mention.first, fact.mention.last)
        rule = (
            "named here" if fact.mention.labels else f'"{fact.mention.how}" of those named before'
        )
        out.append(Because("hive", said, rule, fact.sure["hive"]))
    elif hive is None:
        out.append(Because("hive", "", "about the yard or the day", fact.sure["hive"]))
    for owned in fact.numbers:
        number = candidates.quantities[owned.number]
        out.append(Because("values", number.said, f"read as {owned.role}", owned.sure))
    if fact.day:
        out.append(Because("when", fact.day.said, "said with the fact", fact.sure["date"]))
    return tuple(out)
