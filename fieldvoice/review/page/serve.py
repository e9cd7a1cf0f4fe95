"""Run the page until it is stopped: on this machine, or in this house as well."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass

import uvicorn
from markupsafe import Markup

from fieldvoice.errors import InputError
from fieldvoice.review.page.answers import Answers
from fieldvoice.review.page.app import make_app
from fieldvoice.review.page.bench import Bench
from fieldvoice.review.page.guard import Guard, Keyring

HERE = "127.0.0.1"
USUAL_PORT = 8731
"""A browser keeps a half-typed field by address and port, so the port stays the same."""

# An address of the documentation range: asking which way leads there sends nothing.
_ELSEWHERE = ("192.0.2.1", 9)

LAN_MEANS = (
    "Whoever opens this link first, in the same network, can hear your recordings and decide "
    "on rows until you stop this command. What goes through the air is not encrypted: only "
    "in a network whose users you trust. The link works once; the page Phone gives another."
)


@dataclass(frozen=True, slots=True)
class Place:
    """Where the page is to be seen."""

    port: int | None = None  # None: the usual one, or any if that is taken; 0: any
    lan: bool = False  # also for other devices in this network
    browser: bool = True  # open one here


def serve(bench: Bench, place: Place, tell: Callable[[str], None]) -> None:
    """Serve the page until Ctrl-C.

    Raises:
        InputError: the port is taken, or there is no network for `lan`.
    """
    with contextlib.ExitStack() as closing:
        here = closing.enter_context(contextlib.closing(_here(place.port)))
        port = here.getsockname()[1]
        sockets, hosts = [here], [f"{HERE}:{port}", f"localhost:{port}"]
        keyring = Keyring()
        new_link = None
        if place.lan:
            address = lan_address()
            sockets.append(closing.enter_context(contextlib.closing(_listen(address, port))))
            hosts.append(f"{address}:{port}")

            def new_link() -> tuple[str, str]:
                link = _link(address, port, keyring)
                return link, _code(link)

        app = Guard(make_app(Answers(bench, new_link)), keyring, hosts)
        server = uvicorn.Server(
            uvicorn.Config(
                app,
                http="h11",
                ws="none",
                lifespan="off",
                access_log=False,  # it would write tokens down
                log_level="critical",  # a fault is told on the page, in a sentence
                server_header=False,
                timeout_graceful_shutdown=2,
            )
        )
        _introduce(place, _link(HERE, port, keyring), new_link, tell)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=sockets)


def _introduce(
    place: Place,
    link: str,
    new_link: Callable[[], tuple[str, str]] | None,
    tell: Callable[[str], None],
) -> None:
    tell(f"Review is at {link}")
    tell("The link works once. Every decision is kept at once; stop with Ctrl-C when you like.")
    if new_link is not None:
        other, _ = new_link()
        tell(f"\nFor a phone in this house: {other}\n{qr_text(other)}\n{LAN_MEANS}")
    if place.browser and _has_screen():
        threading.Timer(0.3, webbrowser.open, [link]).start()


def lan_address() -> str:
    """This machine's address in its own network.

    Raises:
        InputError: it is in none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(_ELSEWHERE)
            address = str(asking.getsockname()[0])
        except OSError:
            address = HERE
    if address.startswith(("127.", "0.")):
        raise InputError(
            "This computer is in no network, so no phone can see it; connect it to the house's "
            "network, or leave --lan out."
        )
    return address


def qr_text(link: str) -> str:
    """The link as a QR code made of block characters, for the terminal."""
    import io

    import segno

    out = io.StringIO()
    segno.make(link, micro=False).terminal(out, compact=True)
    return out.getvalue()


def _code(link: str) -> Markup:
    import segno

    # Drawn from our own link alone: nothing in it has to be escaped.
    return Markup(segno.make(link, micro=False).svg_inline(omitsize=True))


def _link(address: str, port: int, keyring: Keyring) -> str:
    return f"http://{address}:{port}/enter?token={keyring.new_token()}"


def _here(port: int | None) -> socket.socket:
    if port is not None:
        return _listen(HERE, port)
    try:
        return _listen(HERE, USUAL_PORT)
    except InputError:
        return _listen(HERE, 0)


def _listen(address: str, port: int) -> socket.socket:
    # Said to be TCP, or asyncio leaves small answers waiting 40 ms for the next (TCP_NODELAY).
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((address, port))
        listening.listen()
    except (OSError, OverflowError) as error:
        listening.close()
        raise InputError(
            f"The page cannot be opened at {address}:{port} ({error}); name another port with "
            "--port, or none."
        ) from error
    return listening


def _has_screen() -> bool:
    """A browser without a screen would take over the terminal."""
    if not sys.platform.startswith("linux"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
