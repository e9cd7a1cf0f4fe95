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
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from fieldvoice.answers.answer import Answer, below, cell_text
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.cautions import with_cautions
from fieldvoice.answers.questions import QUESTIONS, answer
from fieldvoice.answers.search import Wanted, search
from fieldvoice.errors import FieldvoiceError, InputError
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
            return _page("Ask the log", _index(top, opened, request.query_params))

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
        return _page(found.title, body)

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
        Route(top, _told(index)),
        Route(f"{top}/picture/{{name}}.svg", _told(picture)),
        Route(f"{top}/{{name}}", _told(one)),
    ]


def _told(show: Callable[[Request], Response]) -> Callable[[Request], Response]:
    """What is wrong is a sentence on the page. Starlette runs plain functions in threads."""

    def shown(request: Request) -> Response:
        try:
            return show(request)
        except FieldvoiceError as error:
            return _page("That did not work", f"<p>{escape(str(error))}</p>", status=400)

    return shown


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


def _page(title: str, body: str, status: int = 200) -> HTMLResponse:
    return HTMLResponse(
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)} – fieldvoice</title>"
        '<link rel="stylesheet" href="/static/page.css"></head><body><main>'
        f'<p><a href="/">Review</a> · <a href="/ask">Ask the log</a></p>'
        f"<h1>{escape(title)}</h1>{body}</main></body></html>",
        status,
    )


def _index(top: str, opened: Logbook, asked: Mapping[str, str]) -> str:
    lines = [
        f'<li><a href="{top}/{escape(name)}">{escape(name)}</a>: {escape(question.about)}</li>'
        for name, question in QUESTIONS.items()
    ]
    return _form(top, "search", opened, asked) + f"<ul>{''.join(lines)}</ul>"


def _form(top: str, name: str, opened: Logbook, asked: Mapping[str, str]) -> str:
    """The frame of a question: hive, yard, days; for search its words."""
    fields = ["words"] if name == "search" else []
    cells = []
    for field in (*fields, *FRAME):
        value = escape(asked.get(field, ""))
        kind = "date" if field in ("since", "until", "on") else "text"
        known = ' list="yards"' if field == "yard" else ""
        cells.append(
            f'<label>{field} <input name="{field}" type="{kind}" value="{value}"{known}></label> '
        )
    names = "".join(f'<option value="{escape(yard.name)}">' for yard in yards(opened))
    button = "Search" if name == "search" else "Ask"
    return (
        f'<form action="{top}/{escape(name)}" method="get">{"".join(cells)}'
        f'<datalist id="yards">{names}</datalist><button>{button}</button></form>'
    )


def _table(found: Answer) -> str:
    out = [f'<p class="bad" role="alert"><strong>{escape(c)}</strong></p>' for c in found.cautions]
    if found.rows:
        head = "".join(f'<th scope="col">{escape(column)}</th>' for column in found.columns)
        out.append(f"<table><thead><tr>{head}</tr></thead><tbody>{_rows(found)}</tbody></table>")
    else:
        out.append("<p>Nothing in the log.</p>")
    out += [f"<p>{escape(line)}</p>" for line in below(found)]
    return "".join(out)


def _rows(found: Answer) -> str:
    lines: list[str] = []
    for row in found.rows:
        cells: Sequence[str] = [f"<td>{escape(cell_text(cell))}</td>" for cell in row]
        lines.append(f"<tr>{''.join(cells)}</tr>")
    return "".join(lines)
