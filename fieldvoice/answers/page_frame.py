"""The frame that every page beside review has: its head, its links, and where it tells things."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from fieldvoice.errors import FieldvoiceError

LINKS = (("/", "Recordings"), ("/ask", "Ask the log"), ("/ask/plans", "Plans"),
         ("/ask/labels", "Labels"))  # fmt: skip
_TELLS = (
    '<p id="said" class="said" role="status" aria-live="polite"></p>'
    '<p id="problem" class="said bad" role="alert" aria-live="assertive"></p>'
)


def page(title: str, body: str, status: int = 200, script: str = "") -> HTMLResponse:
    """A page of that title; `body` is HTML, `script` the name of a module of review's."""
    links = " ".join(f'<a href="{where}">{words}</a>' for where, words in LINKS)
    module = f'<script type="module" src="/static/{script}"></script>' if script else ""
    return HTMLResponse(
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{escape(title)} – fieldvoice</title>"
        '<link rel="icon" href="/static/mark.svg" type="image/svg+xml">'
        f'<link rel="stylesheet" href="/static/page.css">{module}</head><body>'
        f'<header class="top"><h1>{escape(title)}</h1><nav aria-label="Pages">{links}</nav></header>'
        f'<main class="answer">{body}</main>{_TELLS if script else ""}</body></html>',
        status,
    )


def told(show: Callable[[Request], Response]) -> Callable[[Request], Response]:
    """What is wrong is a sentence on the page. Starlette runs plain functions in threads."""

    def shown(request: Request) -> Response:
        try:
            return show(request)
        except FieldvoiceError as error:
            return page("That did not work", f"<p>{escape(str(error))}</p>", status=400)

    return shown
