"""Pages on which the keeper decides: what becomes of each plan, and what stands on a label.

They are mounted beside the questions and behind the same guard. What is sent is JSON from
review's own script; what comes back is a sentence.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import asdict
from datetime import date, datetime
from html import escape
from pathlib import Path
from typing import Any, cast, get_args

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from fieldvoice.answers.ask import Ask
from fieldvoice.answers.page_frame import page, told
from fieldvoice.answers.plans import Due, open_dues
from fieldvoice.errors import FieldvoiceError, InputError
from fieldvoice.logbook.decided import Decided, Verb, decide
from fieldvoice.logbook.medicines import LabelRecord, add_label, labels
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.settings import load_settings
from fieldvoice.wire import asked_in

Handler = Callable[[Request], Awaitable[Response]]
Send = Callable[[Logbook, Mapping[str, Any]], str]

_FIELDS = (
    ("product", "Product, as on the packet", "text", True),
    ("item", "Your word for it, as in the log", "text", True),
    ("source", "Where you read it, such as: leaflet in the packet, 2024", "text", True),
    ("ingredient", "Active ingredient", "text", False),
    ("form", "Form, such as strip or pad", "text", False),
    ("days_min", "Days it stays in, at least (0: nothing stays in)", "number", False),
    ("days_max", "Days it stays in, at most", "number", False),
    ("low_c", "Lowest temperature it names, °C", "number", False),
    ("high_c", "Highest temperature it names, °C", "number", False),
    ("days_before_supers", "Days to wait before supers go on", "number", False),
    ("withdrawal_days", "Withdrawal period, days", "number", False),
    ("dated", "Date or edition of the label", "text", False),
)
_WHOLE = {"days_min", "days_max", "days_before_supers", "withdrawal_days"}


def doing_routes(logbook: Path, clock: Callable[[], datetime], top: str = "/ask") -> list[Route]:
    """The addresses: plans and label records, each to be looked at and to be sent to."""

    def plans(request: Request) -> Response:
        today = clock().date()
        with open_logbook(logbook) as opened:
            found = open_dues(Ask(opened, today, load_settings(logbook)))
        return page("Plans and follow-ups", _plans(top, found.dues, today), script="sending.js")

    def known(request: Request) -> Response:
        with open_logbook(logbook) as opened:
            return page("Label records", _labels(top, labels(opened)), script="sending.js")

    def decide_on(opened: Logbook, asked: Mapping[str, Any]) -> str:
        frame = Ask(opened, clock().date(), load_settings(logbook))
        return _decide(frame, asked, clock())

    def keep_label(opened: Logbook, asked: Mapping[str, Any]) -> str:
        record = _record(asked)
        add_label(opened, record, clock())
        return f"Label record of {record.product} kept. The label in your hand decides."

    return [
        Route(f"{top}/plans", told(plans)),
        Route(f"{top}/plans/decide", _sent(logbook, decide_on), methods=["POST"]),
        Route(f"{top}/labels", told(known)),
        Route(f"{top}/labels/add", _sent(logbook, keep_label), methods=["POST"]),
    ]


def _sent(logbook: Path, send: Send) -> Handler:
    """An address that takes a JSON object and tells what came of it."""

    def keep(body: bytes) -> Response:
        try:
            asked = asked_in(body)
            with open_logbook(logbook) as opened:
                return JSONResponse({"said": send(opened, asked)})
        except FieldvoiceError as error:
            return JSONResponse({"problem": str(error)}, 422)

    async def handler(request: Request) -> Response:
        return await run_in_threadpool(keep, await request.body())

    return handler


def _decide(ask: Ask, asked: Mapping[str, Any], at: datetime) -> str:
    """Keep a decision on one thing that is open."""
    one = next((due for due in open_dues(ask).dues if due.id == asked.get("id")), None)
    if one is None:
        raise InputError("That is not open any more; load the page again.")
    verb = asked.get("verb")
    if verb not in get_args(Verb):
        raise InputError(f"{verb!r} is none of {', '.join(get_args(Verb))}.")
    day = None
    if verb == "changed":
        day = _day(asked.get("day"))
    row = one.maybe.uuid if verb == "done" and one.maybe else None
    decide(ask.logbook, one.key, Decided(cast("Verb", verb), day, day, row), at)
    return f"{one.hive or 'yard'}: {one.what}: {f'moved to {day}' if day else verb}."


def _day(text: Any) -> date:
    try:
        return date.fromisoformat(str(text or ""))
    except ValueError:
        raise InputError("Choose the day first.") from None


def _plans(top: str, dues: tuple[Due, ...], today: date) -> str:
    if not dues:
        return "<p>Nothing is open.</p>"
    shown = "".join(_plan(top, one, today) for one in dues)
    return (
        "<p>What you planned stays here until you close it; what follows from your rows is only "
        f'proposed.</p><ul class="plans">{shown}</ul>'
    )


def _plan(top: str, one: Due, today: date) -> str:
    name = f"{(one.hive and f'Hive {one.hive}') or 'The yard'}, {one.yard}: {one.what}"
    why = "; ".join(part for part in (one.why, one.reason, one.source) if part)
    maybe = (
        f'<p class="quote">Perhaps done by the row of {one.maybe.day}: “{escape(one.maybe.quote)}”</p>'
        if one.maybe
        else ""
    )
    buttons = [("done", "Done", "yes"), ("dropped", "Drop", "")]
    if one.state == "proposed":
        buttons.insert(1, ("accepted", "Take as my plan", ""))
    verbs = "".join(
        f'<button name="verb" value="{verb}"{f""" class="{look}" """ if look else ""}'
        f' aria-label="{words}: {escape(name)}">{words}</button>'
        for verb, words, look in buttons
    )
    return (
        f'<li><form data-send="{top}/plans/decide"><input type="hidden" name="id" value="{one.id}">'
        f'<p><b>{escape(name)}</b> <span class="fact">{escape(one.when(today))}</span> '
        f'<span class="small">{escape(one.state)}{escape(f", {one.progress}") if one.progress else ""}'
        f'</span></p><p class="quote">{escape(why)}</p>{maybe}<p class="acts">{verbs}'
        f'<label class="small">Another day <input type="date" name="day"></label>'
        f'<button name="verb" value="changed" aria-label="Move: {escape(name)}">Move</button></p>'
        "</form></li>"
    )


def _labels(top: str, known: tuple[LabelRecord, ...]) -> str:
    records = "".join(f"<li>{_label(one)}</li>" for one in known)
    fields = "".join(
        f'<p class="field"><label for="f-{name}">{escape(words)}</label>'
        f'<input id="f-{name}" name="{name}" type="{kind}"{" step=any" if kind == "number" else ""}'
        f'{" required" if needed else ""} autocomplete="off"></p>'
        for name, words, kind, needed in _FIELDS
    )
    supers = "".join(f"<option>{words}</option>" for words in ("not said", "off", "allowed"))
    return (
        "<p>Days, temperatures and waiting times in the answers come from what you type here and "
        "from nothing else. The label in your hand always decides; fieldvoice recommends no dose "
        "and no treatment.</p>"
        + (f'<ul class="plans">{records}</ul>' if records else "<p>None yet.</p>")
        + f'<h2>Type in a label</h2><form class="edit" data-send="{top}/labels/add">{fields}'
        f'<p class="field"><label for="f-supers">Honey supers during treatment</label>'
        f'<select id="f-supers" name="supers">{supers}</select></p>'
        '<p class="acts"><button class="yes">Keep this record</button></p></form>'
    )


def _label(one: LabelRecord) -> str:
    known = [
        f"{name.replace('_', ' ').removesuffix(' c')} {value}{' °C' if name.endswith('_c') else ''}"
        for name, value in asdict(one).items()
        if value not in (None, "") and name not in ("product", "source")
    ]
    return (
        f"<p><b>{escape(one.product)}</b></p><p>{escape(', '.join(known))}</p>"
        f'<p class="quote">from: {escape(one.source)}</p>'
    )


def _record(asked: Mapping[str, Any]) -> LabelRecord:
    """The record as typed; an empty field is one that the label does not name."""
    held: dict[str, Any] = {"supers": str(asked.get("supers") or "not said")}
    if held["supers"] not in ("off", "allowed", "not said"):
        raise InputError("Honey supers are off, allowed, or not said.")
    for name, words, kind, _ in _FIELDS:
        text = str(asked.get(name) or "").strip()
        if kind == "text":
            held[name] = text
        elif text:
            held[name] = _number(text, words, whole=name in _WHOLE)
    if "days_min" in held or "days_max" in held:  # one number alone is both
        held.setdefault("days_min", held.get("days_max"))
        held.setdefault("days_max", held.get("days_min"))
        if held["days_min"] > held["days_max"]:
            raise InputError(
                f"At least {held['days_min']} and at most {held['days_max']} days runs backwards; "
                "write the smaller number first."
            )
    return LabelRecord(**held)


def _number(text: str, words: str, *, whole: bool) -> float:
    try:
        number = int(text) if whole else float(text)
    except ValueError:
        raise InputError(f"{words}: {text!r} is no {'whole ' if whole else ''}number.") from None
    if not -100 <= number <= 3660:
        raise InputError(f"{words}: {text} is no sensible number.")
    if whole and number < 0:
        raise InputError(f"{words}: {text} is below nought.")
    return number
