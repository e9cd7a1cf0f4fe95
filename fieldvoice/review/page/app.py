"""The page's addresses: what each shows, and what each does."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from fieldvoice.errors import FieldvoiceError, LogbookError, StaleError
from fieldvoice.review.page.acts import NewHive, Unreadable
from fieldvoice.review.page.answers import Answers
from fieldvoice.wire import asked_in

HERE = Path(__file__).parent

Handler = Callable[[Request], Awaitable[Response]]
Show = Callable[[Request], tuple[str, Mapping[str, Any]]]
Do = Callable[[str, Mapping[str, Any]], Mapping[str, Any]]


def make_app(answers: Answers) -> Starlette:
    """The application, to be put behind a Guard."""
    one = "/recordings/{recording:uuid}"
    app = Starlette(
        routes=[
            Route("/", _page(answers.recordings)),
            Route("/next", _next),
            Route("/learnt", _page(answers.learnt)),
            Route("/phone", _page(answers.phone)),
            Route(one, _page(answers.recording)),
            Route(f"{one}/rows/{{row:uuid}}/form", _page(answers.form)),
            Route(f"{one}/form", _page(answers.blank_form)),
            Route(f"{one}/decisions", _page(answers.decisions)),
            Route(f"{one}/decide", _change(answers.decide), methods=["POST"]),
            Route(f"{one}/check", _change(answers.check), methods=["POST"]),
            Route(f"{one}/state", _change(answers.state), methods=["POST"]),
            Route(f"{one}/learn", _change(answers.learn), methods=["POST"]),
            Route(f"{one}/sound", _sound),
            Route(f"{one}/waveform", _waveform),
            Route("/learnt/word", _change(answers.decide_word), methods=["POST"]),
            Route("/learnt/name", _change(answers.drop_name), methods=["POST"]),
            *answers.bench.beside,
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ],
        exception_handlers={FieldvoiceError: _refused, 404: _nowhere, Exception: _fault},
    )
    app.state.answers = answers
    return app


def _page(show: Show) -> Handler:
    """An address that shows a template."""

    async def handler(request: Request) -> Response:
        return HTMLResponse(await run_in_threadpool(_html, show, request))

    return handler


def page_of(template: str, **shown: Any) -> str:
    """The HTML of a page that is the same whatever is in the logbook."""
    return _templates().get_template(template).render(**shown)


def _html(show: Show, request: Request) -> str:
    name, shown = show(request)
    return _templates().get_template(name).render(**shown)


def _change(do: Do) -> Handler:
    """An address that takes a JSON object, does something, and tells in JSON what came of it."""

    async def handler(request: Request) -> Response:
        asked = asked_in(await request.body())
        recording = str(request.path_params.get("recording", ""))
        return JSONResponse(await run_in_threadpool(lambda: _drawn(do(recording, asked))))

    return handler


def _drawn(told: Mapping[str, Any]) -> dict[str, Any]:
    """Rows and boards in an answer become HTML."""
    macros: Any = _templates().get_template("parts.html").module
    drawn = dict(told)
    if "rows" in drawn:
        drawn["rows"] = {row.id: str(macros.row(row)) for row in drawn["rows"]}
    if "board" in drawn:
        drawn["board"] = str(macros.board(drawn["board"]))
    return drawn


async def _refused(request: Request, error: Exception) -> Response:
    """One sentence, with what the page needs to go on."""
    if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
        html = _templates().get_template("problem.html").render(problem=str(error))
        return HTMLResponse(html, 404)
    told: dict[str, Any] = {"problem": str(error)}
    status = 422
    if isinstance(error, NewHive):
        told["new_hive"] = error.label
    elif isinstance(error, Unreadable):
        told["problems"] = error.problems
    elif isinstance(error, StaleError):
        status = 409
        answers: Answers = request.app.state.answers
        recording = str(request.path_params.get("recording", ""))
        told |= await run_in_threadpool(lambda: _drawn(answers.board(recording)))
    elif isinstance(error, LogbookError):
        status = 507
    return JSONResponse(told, status)


async def _nowhere(request: Request, error: Exception) -> Response:
    """There is no such address."""
    html = _templates().get_template("problem.html").render(problem="There is no such page.")
    return HTMLResponse(html, 404)


async def _fault(request: Request, error: Exception) -> Response:
    """What nobody foresaw, in a sentence; nothing of the logbook was changed."""
    told = f"An unforeseen fault ({type(error).__name__}). Nothing was lost; load the page again."
    return JSONResponse({"problem": told}, 500)


async def _next(request: Request) -> Response:
    """On with what waits."""
    answers: Answers = request.app.state.answers
    return RedirectResponse(await run_in_threadpool(answers.next_recording), 303)


async def _sound(request: Request) -> Response:
    answers: Answers = request.app.state.answers
    return await run_in_threadpool(
        answers.sound, str(request.path_params["recording"]), request.headers.get("range")
    )


async def _waveform(request: Request) -> Response:
    answers: Answers = request.app.state.answers
    return JSONResponse(
        await run_in_threadpool(answers.waveform, str(request.path_params["recording"]))
    )


@cache
def _templates() -> Environment:
    """Everything is escaped: what was heard is text, whatever it looks like."""
    return Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
