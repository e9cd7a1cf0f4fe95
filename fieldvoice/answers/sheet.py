"""A sheet to print for each yard: what to do at each hive, and what to bring."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from html import escape

from fieldvoice.answers.answer import Answer, cell_text
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.cautions import with_cautions
from fieldvoice.answers.due import load, soon
from fieldvoice.answers.plans import Due
from fieldvoice.answers.queens import queens
from fieldvoice.answers.strength import strength
from fieldvoice.plain import hive_name

REMINDER = "Treatments: the product's label and local rules decide. No doses are given here."


@dataclass(frozen=True, slots=True)
class YardSheet:
    """One page."""

    yard: str
    day: date
    cautions: tuple[str, ...]
    hives: tuple[tuple[str, str], ...]  # label, last word on bees and queen
    todo: Mapping[str | None, Sequence[Due]]  # by label; None and "all": the yard
    bring: Answer


def sheets(ask: Ask) -> tuple[YardSheet, ...]:
    """A page for each yard asked about, hives in walking order."""
    _, found = soon(ask)
    yards = tuple(dict.fromkeys(hive.yard for hive in ask.hives()))
    return tuple(_sheet(replace(ask, yard=yard), yard, found) for yard in yards)


def _sheet(ask: Ask, yard: str, found: Sequence[Due]) -> YardSheet:
    bees = {row[0]: row for row in strength(ask).rows}
    signs = {row[0]: row for row in queens(ask).rows}
    todo: dict[str | None, list[Due]] = defaultdict(list)
    for due in found:
        if due.yard == yard:
            todo[None if due.hive == "all" else due.hive].append(due)
    words = [
        (hive.label, f"bees on {bees[hive.label][2]}; queen: {signs[hive.label][5]}")
        for hive in ask.hives()
    ]
    rows = tuple(due.row for due in found if due.yard == yard)
    checked = with_cautions(replace(load(ask), rests_on=rows))
    return YardSheet(yard, ask.today, checked.cautions, tuple(words), todo, load(ask))


def sheet_text(pages: Sequence[YardSheet]) -> str:
    """The pages as plain text, a form feed between them."""
    return "\f".join(_page_text(page) for page in pages)


def _page_text(page: YardSheet) -> str:
    out = [f"{page.yard}, {page.day}", "=" * 72, *(f"! {line}" for line in page.cautions)]
    out += [f"[ ] {_todo(due, page.day)}" for due in page.todo.get(None, ())]
    for label, words in page.hives:
        out.append(f"\n{hive_name(label)}   ({words})")
        out += [f"  [ ] {_todo(due, page.day)}" for due in page.todo.get(label, ())]
    out += ["\nTo bring", *(f"  [ ] {line}" for line in _bring(page.bring)), "", REMINDER, ""]
    return "\n".join(out)


def sheet_html(pages: Sequence[YardSheet]) -> str:
    """The pages as one HTML file that prints a yard to a page."""
    body = "\n".join(_page_html(page) for page in pages)
    return (
        '<!doctype html>\n<html lang="en"><meta charset="utf-8"><title>Yard sheet</title>\n'
        "<style>body{font:12pt/1.35 sans-serif;margin:1.5cm}section{break-after:page}"
        "h1{font-size:16pt}h2{font-size:12pt;margin:.7em 0 .1em}ul{margin:0;padding-left:1.2em;"
        "list-style:'\\2610  '}small{color:#444}.caution{border:2px solid;padding:.4em}</style>\n"
        f"{body}\n</html>\n"
    )


def _page_html(page: YardSheet) -> str:
    out = [f"<section><h1>{escape(page.yard)}, {page.day}</h1>"]
    out += [f'<p class="caution">{escape(line)}</p>' for line in page.cautions]
    out.append(_list(_todo(due, page.day) for due in page.todo.get(None, ())))
    for label, words in page.hives:
        out.append(f"<h2>{escape(hive_name(label))} <small>{escape(words)}</small></h2>")
        out.append(_list(_todo(due, page.day) for due in page.todo.get(label, ())))
    out += ["<h2>To bring</h2>", _list(_bring(page.bring)), f"<p>{escape(REMINDER)}</p></section>"]
    return "\n".join(out)


def _list(items: Iterable[str]) -> str:
    lines = [f"<li>{escape(item)}</li>" for item in items]
    return f"<ul>{''.join(lines)}</ul>" if lines else ""


def _todo(due: Due, today: date) -> str:
    words = due.why if due.kind == "follow-up" else "; ".join(filter(None, (due.why, due.source)))
    return f"{due.what} ({due.when(today)}; {words})"


def _bring(answer: Answer) -> list[str]:
    lines = []
    for thing, amount, up_to, unit, unsaid, place in answer.rows:
        much = cell_text(amount) if amount is not None else "amount not said"
        if up_to is not None:
            much += f" to {cell_text(up_to)}"
        more = f", {unsaid} without an amount" if unsaid and amount is not None else ""
        lines.append(f"{thing}: {much}{f' {unit}' if unit else ''}{more} (for {place})")
    return lines
