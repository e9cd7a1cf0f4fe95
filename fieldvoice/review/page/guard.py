"""Who may talk to the page: this keeper's browser, and nothing else that runs in it.

A page of another site can make the browser send requests here, and a name of its own can
be made to point here (DNS rebinding). So: the Host must be ours, the Origin of every
change must be ours, and every request needs the key that a one-time token was traded for.
The one-time token is in the link the command prints; the key is in a cookie that scripts
cannot read and that other sites' requests do not carry.
"""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders, QueryParams
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fieldvoice.review.page.peer import is_another_user

MOST_BYTES = 256 * 1024
"""The longest request: a decision on several thousand rows."""

KEY_SECONDS = 16 * 3600

HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


@dataclass(slots=True)
class Keyring:
    """One-time tokens that are out, and keys of browsers that have traded one in."""

    tokens: set[str] = field(default_factory=set)
    keys: set[str] = field(default_factory=set)

    def new_token(self) -> str:
        """A token that lets one browser in, once."""
        token = secrets.token_urlsafe(24)
        self.tokens.add(token)
        return token

    def trade(self, token: str) -> str | None:
        """A key for a token, which is then used up; None if it is not one of ours."""
        if not _among(token, self.tokens):
            return None
        self.tokens.discard(token)
        key = secrets.token_urlsafe(32)
        self.keys.add(key)
        return key

    def opens(self, key: str) -> bool:
        """Whether a browser's key is one of ours."""
        return _among(key, self.keys)


def _among(given: str, known: Iterable[str]) -> bool:
    """In a time that does not tell how much of it was right."""
    return any([secrets.compare_digest(given.encode(), one.encode()) for one in known])


class Guard:
    """ASGI middleware that refuses what is not from the keeper's own page."""

    def __init__(self, app: ASGIApp, keyring: Keyring, hosts: Iterable[str]) -> None:
        self._app = app
        self._keyring = keyring
        self._hosts = frozenset(hosts)  # "127.0.0.1:8731": name and port
        # Cookies do not know ports; two logbooks open at once must not share one.
        self._cookie = f"fieldvoice_{min(self._hosts).rpartition(':')[2]}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse, or hand on."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        send = _with_headers(send)
        headers = Headers(scope=scope)
        refused = self._refuse_place(scope, headers)
        if refused is None and scope["path"] == "/enter":
            refused = self._enter(scope, headers)
        elif refused is None and not self._known(headers):
            refused = _no(
                403,
                "This page needs the link that `fieldvoice review` prints; a link works once. "
                "Run the command again for a new one.",
            )
        if refused is not None:
            await refused(scope, receive, send)
            return
        if scope["method"] not in ("GET", "HEAD"):
            body = await _whole_body(receive, headers)
            if body is None:
                await _no(413, "That is more than the page ever sends.")(scope, receive, send)
                return
            receive = _again(body, receive)
        await self._app(scope, receive, send)

    def _refuse_place(self, scope: Scope, headers: Headers) -> Response | None:
        """Refuse names that are not ours, and requests that other sites caused."""
        host = headers.get("host", "")
        if host not in self._hosts or len(headers.getlist("host")) != 1:
            return _no(421, "That is not the name of this page.")
        origin = headers.get("origin")
        reads = scope["method"] in ("GET", "HEAD")
        if origin is None and not reads:
            return _no(403, "A change must say which page it comes from.")
        if origin is not None and origin != f"http://{host}":
            return _no(403, "Requests from other sites are refused.")
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return _no(403, "Requests from other sites are refused.")
        if not reads and headers.get("content-type", "").partition(";")[0] != "application/json":
            return _no(415, "A change is sent as JSON.")
        return None

    def _enter(self, scope: Scope, headers: Headers) -> Response:
        if scope["method"] != "GET":
            return _no(405, "Open the link in a browser.")
        if is_another_user(scope.get("client"), scope.get("server")):
            return _no(403, "This link is for another user of this computer.")
        key = self._keyring.trade(QueryParams(scope["query_string"]).get("token", ""))
        if key is None:
            if self._known(headers):  # the same link again, in the browser that used it
                return RedirectResponse("/next", 303)
            return _no(
                403,
                "This link is not valid, or was used already: each works once. "
                "Run `fieldvoice review` again for a new one.",
            )
        response = RedirectResponse("/next", 303)
        response.set_cookie(
            self._cookie, key, max_age=KEY_SECONDS, httponly=True, samesite="strict"
        )
        return response

    def _known(self, headers: Headers) -> bool:
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        found = cookies.get(self._cookie)
        return found is not None and self._keyring.opens(found.value)


def _no(status: int, why: str) -> Response:
    return PlainTextResponse(f"{why}\n", status)


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
        await send(message)

    return sending


async def _whole_body(receive: Receive, headers: Headers) -> bytes | None:
    """The body of a request; None if it is longer than any that the page sends."""
    declared = headers.get("content-length", "0")
    if not declared.isdigit() or int(declared) > MOST_BYTES:
        return None
    body = b""
    while True:
        message = await receive()
        piece: bytes = message.get("body", b"")
        body += piece
        if len(body) > MOST_BYTES:
            return None
        if message["type"] == "http.disconnect" or not message.get("more_body", False):
            return body


def _again(body: bytes, receive: Receive) -> Receive:
    """Hand a body that was read already to whoever asks for it, then what follows it."""
    messages: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def receiving() -> Message:
        return messages.pop() if messages else await receive()

    return receiving
