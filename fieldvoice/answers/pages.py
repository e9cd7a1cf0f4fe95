"""The questions as local pages, to be mounted beside review under /ask.

Whoever mounts them stands guard before them. Each request opens the logbook for itself and
only reads. All words are escaped; there is no script.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from html import escape
from pathlib import Path
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from fieldvoice.answers.answer import NOTHING, Answer, Cell, below, cell_text
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.cautions import with_cautions
from fieldvoice.answers.page_frame import page, told
from fieldvoice.answers.questions import QUESTIONS, answer
from fieldvoice.answers.search import Wanted, search
from fieldvoice.errors import InputError
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.logbook.register import need_hive, need_yard, yards
from fieldvoice.settings import load_settings

FRAME = ("hive", "yard", "since", "until", "on")
DRAWN = {"mites": "mites", "strength": "strength", "feed": "feed", "visits": "year"}
"""Questions with a picture, and which."""


def ask_routes(logbook: Path, today: Callable[[], date], top: str = "/ask") -> list[Route]:
    """The addresses: all questions, one question, search, and pictures."""

    def index(request: Request) -> Response:
        with open_logbook(logbook) as opened:
            return page("Ask the log", _index(top, opened, request.query_params))

    def one(request: Request) -> Response:
        name = request.path_params["name"]
        asked = request.query_params
        with open_logbook(logbook) as opened:
            frame = _frame(opened, logbook, asked, today())
            if name == "search":
                found = search(frame, Wanted(asked.get("words", "")))
            elif name in QUESTIONS:
                found = answer(name, frame)
            else:
                raise InputError(f"There is no question {name}.")
            body = _form(top, name, opened, asked) + _table(with_cautions(found))
        if name in DRAWN:
            query = urlencode({key: asked[key] for key in FRAME if asked.get(key)})
            source = f"{top}/picture/{DRAWN[name]}.svg?{query}"
            body += f'<p><img src="{escape(source)}" alt="{escape(DRAWN[name])} drawn"></p>'
        return page(found.title, body)

    def picture(request: Request) -> Response:
        from fieldvoice.answers.pictures import PICTURES
        from fieldvoice.answers.pictures import picture as draw

        name = request.path_params["name"]
        if name not in PICTURES:
            raise InputError(f"There is no picture {name}.")
        with open_logbook(logbook) as opened:
            frame = _frame(opened, logbook, request.query_params, today())
            return Response(draw(frame, name, "svg"), media_type="image/svg+xml")

    return [
        Route(top, told(index)),
        Route(f"{top}/picture/{{name}}.svg", told(picture)),
        Route(f"{top}/{{name}}", told(one)),
    ]


def _frame(opened: Logbook, path: Path, asked: Mapping[str, str], today: date) -> Ask:
    hive, yard = asked.get("hive", "").strip(), asked.get("yard", "").strip()
    frame = Ask(
        opened, _day(asked.get("on")) or today, load_settings(path), _day(asked.get("since")),
        _day(asked.get("until")), need_yard(opened, yard).name if yard else None,
    )  # fmt: skip
    if hive:
        return replace(frame, hive=need_hive(opened, hive, yard or None, retired=True), yard=None)
    return frame


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise InputError(f"{text!r} is not a day; write it as 2026-05-03.") from None


def _index(top: str, opened: Logbook, asked: Mapping[str, str]) -> str:
    lines = [
        f'<li><a href="{top}/{escape(name)}">{escape(question.about)}</a> '
        f'<span class="small">{escape(name)}</span></li>'
        for name, question in QUESTIONS.items()
    ]
    return _form(top, "search", opened, asked) + f'<ul class="questions">{"".join(lines)}</ul>'


_NAMED = {"words": "Words", "hive": "Hive", "yard": "Yard", "since": "From", "until": "To",
          "on": "As it was on"}  # fmt: skip


def _form(top: str, name: str, opened: Logbook, asked: Mapping[str, str]) -> str:
    """The frame of a question: hive, yard, days; for search its words."""
    fields = ["words"] if name == "search" else []
    cells = []
    for field in (*fields, *FRAME):
        value = escape(asked.get(field, ""))
        kind = "date" if field in ("since", "until", "on") else "text"
        known = ' list="yards"' if field == "yard" else ""
        cells.append(
            f"<label>{_NAMED[field]} "
            f'<input name="{field}" type="{kind}" value="{value}"{known}></label> '
        )
    names = "".join(f'<option value="{escape(yard.name)}">' for yard in yards(opened))
    button = "Search" if name == "search" else "Ask"
    narrowed = " open" if name == "search" or any(asked.get(field) for field in FRAME) else ""
    return (
        f'<details class="frame"{narrowed}><summary>Which hive, yard, days</summary>'
        f'<form action="{top}/{escape(name)}" method="get">{"".join(cells)}'
        f'<datalist id="yards">{names}</datalist><button class="yes">{button}</button></form></details>'
    )


def _table(found: Answer) -> str:
    out = [
        f'<p class="notice" role="alert"><strong>{escape(c)}</strong></p>' for c in found.cautions
    ]
    if found.rows:
        head = "".join(f'<th scope="col">{escape(column)}</th>' for column in found.columns)
        out.append(
            f'<div class="scroll" role="region" aria-label="{escape(found.title)}" tabindex="0">'
            f"<table><thead><tr>{head}</tr></thead><tbody>{_rows(found)}</tbody></table></div>"
        )
    else:
        out.append(f"<p>{NOTHING}</p>")
    out += [f"<p>{escape(line)}</p>" for line in below(found)]
    return "".join(out)


def _rows(found: Answer) -> str:
    lines: list[str] = []
    for row in found.rows:
        cells: Sequence[str] = [
            f'<td data-of="{escape(column)}"{_none(cell)}>{escape(cell_text(cell))}</td>'
            for column, cell in zip(found.columns, row, strict=True)
        ]
        lines.append(f"<tr>{''.join(cells)}</tr>")
    return "".join(lines)


def _none(cell: Cell) -> str:
    """An empty cell is left out where a row is shown as a card."""
    return ' class="none"' if cell is None else ""
