"""Cautions that come before an answer when its rows hold certain words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

from fieldvoice.answers.answer import Answer
from fieldvoice.trade.load import trade_file
from fieldvoice.types import LogRow


def with_cautions(answer: Answer) -> Answer:
    """The answer with the cautions its rows ask for, each once and before everything else."""
    told = [
        (row.day, _words(row.item, row.quote, row.details))
        for row in answer.rests_on
        if row.status != "absent"
    ]
    loud, quiet = _said(told)
    return replace(answer, cautions=(*answer.cautions, *loud), notes=(*answer.notes, *quiet))


def cautions_of(rows: Iterable[LogRow]) -> list[str]:
    """The cautions that come before rows of the log."""
    told = [
        (row.recorded_at.date(), _words(row.entry.item, row.entry.quote, row.entry.details))
        for row in rows
        if row.entry.status != "absent"
    ]
    return _said(told)[0]


def _said(told: Sequence[tuple[date, str]]) -> tuple[list[str], list[str]]:
    """Cautions that come first, and those that come after, for words said on days."""
    loud: list[str] = []
    quiet: list[str] = []
    for rule, pattern in _patterns():
        days = sorted({day.isoformat() for day, words in told if pattern.search(words)})
        if days:
            line = f"{rule['says']} (Said on {', '.join(days[-3:])}; {rule['source']}.)"
            (quiet if rule.get("quiet") else loud).append(line)
    return loud, quiet


def _words(item: str, quote: str, details: Mapping[str, str]) -> str:
    return " ".join((item, quote, *details.values())) if details else f"{item} {quote}"


@cache
def _patterns() -> tuple[tuple[dict[str, Any], Any], ...]:
    return tuple(
        (rule, re.compile(rf"\b(?:{'|'.join(map(re.escape, rule['words']))})s?\b", re.I))
        for rule in trade_file("cautions")["caution"]
    )
