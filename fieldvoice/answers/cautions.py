"""Cautions that come before an answer when its rows hold certain words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from typing import Any

from fieldvoice.answers.answer import Answer
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Fact


def with_cautions(answer: Answer) -> Answer:
    """The answer with the cautions its rows ask for, each once and before everything else."""
    loud: list[str] = []
    quiet: list[str] = []
    for rule, pattern in _patterns():
        days = _days(answer.rests_on, pattern)
        if days:
            told = f"{rule['says']} (Said on {', '.join(days[-3:])}; {rule['source']}.)"
            (quiet if rule.get("quiet") else loud).append(told)
    return replace(answer, cautions=(*answer.cautions, *loud), notes=(*answer.notes, *quiet))


def _days(rows: Iterable[Fact], pattern: Any) -> list[str]:
    return sorted(
        {
            row.day.isoformat()
            for row in rows
            if row.status != "absent" and pattern.search(_words(row))
        }
    )


def _words(row: Fact) -> str:
    if row.details:
        return " ".join((row.item, row.quote, *row.details.values()))
    return f"{row.item} {row.quote}"


@cache
def _patterns() -> tuple[tuple[dict[str, Any], Any], ...]:
    return tuple(
        (rule, re.compile(rf"\b(?:{'|'.join(map(re.escape, rule['words']))})s?\b", re.I))
        for rule in trade_file("cautions")["caution"]
    )
