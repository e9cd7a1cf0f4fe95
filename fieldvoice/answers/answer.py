"""What an answer is, and how it is shown: a table with what it rests on."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from fieldvoice.types import Fact, Json

NOTHING = "Nothing in the log; a draft counts once it is confirmed in review."

Cell = str | int | float | date | None

NOT_LOOKED = "not looked"
"""Nobody said anything about it."""
NONE_SEEN = "none seen"
"""Looked for and not there."""
UNKNOWN = "unknown"
"""It was spoken of, but not how much or when."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A table, with its cautions before it and what it rests on after it."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    rests_on: tuple[Fact, ...]
    notes: tuple[str, ...] = ()
    not_looked: tuple[str, ...] = ()  # hives or things nobody spoke of in that time
    cautions: tuple[str, ...] = ()


def to_text(answer: Answer, width: int | None = None) -> str:
    """The answer to read in a terminal, `width` columns wide."""
    from rich.console import Console
    from rich.table import Table

    out = io.StringIO()
    console = Console(file=out, width=width, highlight=False, soft_wrap=False)
    for caution in answer.cautions:
        console.print(f"! {caution}\n", markup=False)
    console.print(answer.title, markup=False)
    if answer.rows:
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_edge=False)
        shown = _worth_showing(answer)
        for number in shown:
            numeric = any(isinstance(row[number], (int, float)) for row in answer.rows)
            justify: Literal["left", "right"] = "right" if numeric else "left"
            table.add_column(
                answer.columns[number], justify=justify, header_style="", overflow="fold"
            )
        for row in answer.rows:
            table.add_row(*(_escaped(cell_text(row[number])) for number in shown))
        console.print(table)
    else:
        console.print(NOTHING)
    for line in below(answer):
        console.print(line, markup=False)
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


def _worth_showing(answer: Answer) -> list[int]:
    """Columns with something in them; a yard or hive that the title names is not told again."""
    shown = []
    for number, column in enumerate(answer.columns):
        cells = {row[number] for row in answer.rows}
        named = column in ("yard", "hive") and len(cells) == 1 and f"{cells.copy().pop()}"
        words = answer.title.replace(",", " ").split()
        if cells != {None} and not (named and named in words):
            shown.append(number)
    return shown


def to_json(answer: Answer) -> str:
    """The answer as one JSON object; cells keep their kind, days are ISO."""
    return json.dumps(answer_json(answer), ensure_ascii=False, indent=1) + "\n"


def answer_json(answer: Answer) -> Json:
    """The shape that `--json` prints."""
    first, last = _span(answer.rests_on)
    return {
        "title": answer.title,
        "cautions": list(answer.cautions),
        "columns": list(answer.columns),
        "rows": [dict(zip(answer.columns, map(_plain, row), strict=True)) for row in answer.rows],
        "notes": list(answer.notes),
        "not_looked": list(answer.not_looked),
        "rests_on": {
            "rows": len(answer.rests_on),
            "from": first.isoformat() if first else None,
            "to": last.isoformat() if last else None,
            "ids": [fact.uuid for fact in answer.rests_on],
        },
    }


def to_csv(answer: Answer) -> str:
    """The table alone as CSV (RFC 4180)."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(answer.columns)
    writer.writerows([_plain(cell) for cell in row] for row in answer.rows)
    return out.getvalue()


def cell_text(cell: Cell) -> str:
    """A cell as it is read: numbers to a sensible digit, nothing as a dash.

    >>> cell_text(2.3456), cell_text(12345.6), cell_text(None), cell_text(3)
    ('2.35', '12346', '-', '3')
    """
    if cell is None:
        return "-"
    if isinstance(cell, float):
        return f"{cell:.0f}" if abs(cell) >= 1000 else f"{cell:.3g}"
    return str(cell)


def below(answer: Answer) -> Sequence[str]:
    """The lines under a table: notes, what was not looked at, what it rests on."""
    lines = [*answer.notes]
    if answer.not_looked:
        lines.append(f"Not looked at: {', '.join(answer.not_looked)}.")
    first, last = _span(answer.rests_on)
    if first and last:
        rows = "1 row" if len(answer.rests_on) == 1 else f"{len(answer.rests_on)} rows"
        span = f"of {first}" if first == last else f"from {first} to {last}"
        lines.append(f"Rests on {rows} of the log, {span}.")
    return lines


def _span(facts: Sequence[Fact]) -> tuple[date | None, date | None]:
    days = [fact.day for fact in facts]
    return (min(days), max(days)) if days else (None, None)


def _plain(cell: Cell) -> str | int | float | None:
    if isinstance(cell, date):
        return cell.isoformat()
    return round(cell, 6) if isinstance(cell, float) else cell


def _escaped(text: str) -> str:
    return text.replace("[", "\\[")
