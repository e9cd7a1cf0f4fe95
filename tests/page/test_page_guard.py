"""The attack table: whatever is not the keeper's own page is refused, and changes nothing."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
from makers import query
from page_tools import EVIL, SYRUP, Page, make_logbook, served
from starlette.applications import Starlette
from starlette.testclient import TestClient
from starlette.types import Receive, Scope, Send

from fieldvoice.errors import InputError
from fieldvoice.review.page.guard import MOST_BYTES, Guard, Keyring
from fieldvoice.review.page.peer import is_another_user
from fieldvoice.review.page.serve import lan_address


def recording_of(page: Page) -> str:
    return str(query(page.logbook, "SELECT uuid FROM recordings")[0][0])


def a_row(page: Page) -> list[object]:
    return list(query(page.logbook, "SELECT uuid, version FROM drafts ORDER BY id")[0])


def decide(page: Page) -> tuple[str, dict[str, object]]:
    body = {"act": "confirm", "rows": [a_row(page)]}
    return f"/recordings/{recording_of(page)}/decide", body


@pytest.fixture(scope="module")
def refusing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """One page for all that is refused: no attack changes anything."""
    path = tmp_path_factory.mktemp("refusing") / "log.db"
    make_logbook(path)
    with served(path) as shown:
        yield shown


def test_with_everything_right_a_decision_is_kept(page: Page) -> None:
    with page.client() as client:
        path, body = decide(page)
        told = client.post(path, json=body)
    assert told.status_code == 200
    assert query(page.logbook, "SELECT count(*) FROM entries") == [(1,)]


HEADERS: dict[str, tuple[dict[str, str], int]] = {
    "foreign host": ({"host": "evil.example"}, 421),
    "foreign host with our port": ({"host": "evil.example:{port}"}, 421),
    "our host with another port": ({"host": "127.0.0.1:1"}, 421),
    "our host as a part of another": ({"host": "127.0.0.1.evil.example:{port}"}, 421),
    "no host": ({"host": ""}, 421),
    "foreign origin": ({"origin": "http://evil.example"}, 403),
    "another port's origin": ({"origin": "http://127.0.0.1:1"}, 403),
    "secure origin": ({"origin": "https://127.0.0.1:{port}"}, 403),
    "origin of a sandbox": ({"origin": "null"}, 403),
    "a form of another site": ({"sec-fetch-site": "cross-site"}, 403),
    "a page on another port": ({"sec-fetch-site": "same-site"}, 403),
    "no JSON": ({"content-type": "text/plain"}, 415),
    "a form": ({"content-type": "application/x-www-form-urlencoded"}, 415),
    "no key": ({"cookie": ""}, 403),
    "a wrong key": ({"cookie": "fieldvoice_{port}=guess"}, 403),
    "an empty key": ({"cookie": "fieldvoice_{port}="}, 403),
}


@pytest.mark.parametrize("attack", HEADERS)
def test_a_decision_from_elsewhere_is_refused(refusing: Page, attack: str) -> None:
    wrong, status = HEADERS[attack]
    port = str(urlsplit(refusing.site).port)
    with refusing.client() as client:
        path, body = decide(refusing)
        headers = {name: text.replace("{port}", port) for name, text in wrong.items()}
        told = client.post(path, json=body, headers=headers)
        assert told.status_code == status, told.text
        assert "board" not in told.text
    assert query(refusing.logbook, "SELECT count(*) FROM history") == [(0,)]


def test_a_decision_without_an_origin_is_refused(refusing: Page) -> None:
    with refusing.client() as client:
        del client.headers["origin"]
        path, body = decide(refusing)
        assert client.post(path, json=body).status_code == 403
    assert query(refusing.logbook, "SELECT count(*) FROM history") == [(0,)]


@pytest.mark.parametrize(
    "attack", [name for name in HEADERS if "content-type" not in HEADERS[name][0]]
)
def test_nothing_is_shown_elsewhere(refusing: Page, attack: str) -> None:
    wrong, status = HEADERS[attack]
    port = str(urlsplit(refusing.site).port)
    headers = {name: text.replace("{port}", port) for name, text in wrong.items()}
    with refusing.client() as client:
        for path in ("/", f"/recordings/{recording_of(refusing)}", "/static/page.js",
                     f"/recordings/{recording_of(refusing)}/sound"):  # fmt: skip
            told = client.get(path, headers=headers)
            assert told.status_code == status, path
            assert len(told.text) < 300


def test_the_token_works_once(page: Page) -> None:
    with httpx.Client() as first, httpx.Client() as second:
        assert first.get(page.link).status_code == 303
        refused = second.get(page.link)
        assert refused.status_code == 403
        assert "each works once" in refused.text
        assert "set-cookie" not in refused.headers
        again = first.get(page.link)  # the browser that used it may load it again
        assert again.headers["location"] == "/next"


@pytest.mark.parametrize("token", ["", "x", "%00", "ü", "a" * 10_000])
def test_a_wrong_token(page: Page, token: str) -> None:
    with httpx.Client() as client:
        told = client.get(f"{page.site}/enter", params={"token": token})
        assert told.status_code == 403
        assert "set-cookie" not in told.headers
        assert client.get(page.link).status_code == 303  # the right one is still good


def test_the_key_is_for_this_page_alone(page: Page) -> None:
    with httpx.Client() as client:
        cookie = client.get(page.link).headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert f"fieldvoice_{urlsplit(page.site).port}=" in cookie


def test_tokens_are_long_and_none_is_like_another() -> None:
    keyring = Keyring()
    tokens = {keyring.new_token() for _ in range(100)}
    assert len(tokens) == 100
    assert min(map(len, tokens)) >= 32  # 24 bytes, base 64


@dataclass(frozen=True, slots=True)
class Connection:
    """One on this machine, made by a user who is not root."""

    client: tuple[str, int]
    server: tuple[str, int]
    owner: int


@pytest.fixture
def made() -> Iterator[Connection]:
    with (
        socket.create_server(("127.0.0.1", 0)) as server,
        socket.create_connection(server.getsockname()) as client,
    ):
        owner = os.getuid()
        if owner == 0:
            owner = 65_534
            os.fchown(client.fileno(), owner, -1)
        yield Connection(client.getsockname(), client.getpeername(), owner)


def test_whose_a_connection_is(made: Connection, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "getuid", lambda: made.owner)
    assert not is_another_user(made.client, made.server)
    monkeypatch.setattr(os, "getuid", lambda: 4242)
    assert is_another_user(made.client, made.server)
    for nobody in (("192.0.2.9", 4242), ("testclient", 50_000), ("::1", 9), None):
        assert not is_another_user(nobody, made.server)  # of another machine, or not known


def test_another_user_of_this_machine_cannot_use_the_link(
    made: Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It can be read in the command line of the browser that is opened with it."""
    site, keyring = f"127.0.0.1:{made.server[1]}", Keyring()
    token = keyring.new_token()
    guard = Guard(Starlette(), keyring, [site])

    async def told(scope: Scope, receive: Receive, send: Send) -> None:
        await guard(scope | {"server": made.server}, receive, send)

    client = TestClient(told, f"http://{site}", client=made.client, follow_redirects=False)
    monkeypatch.setattr(os, "getuid", lambda: 4242)
    refused = client.get(f"/enter?token={token}")
    assert refused.status_code == 403
    assert refused.text == "This link is for another user of this computer.\n"
    assert "set-cookie" not in refused.headers
    monkeypatch.setattr(os, "getuid", lambda: made.owner)
    assert client.get(f"/enter?token={token}").status_code == 303  # it was not used up


@pytest.mark.skipif(os.getuid() != 0, reason="only root can become another user")
def test_a_real_other_user_is_refused(page: Page) -> None:
    asking = (
        "import sys, urllib.request as r\n"
        "try: print(r.urlopen(sys.argv[1]).status)\n"
        "except r.HTTPError as error: print(error.code, error.read().decode())\n"
    )
    done = subprocess.run(
        ["setpriv", "--reuid=65534", "--clear-groups", sys.executable, "-I", "-c", asking, page.link],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.startswith("403 This link is for another user")
    with page.client() as client:
        assert client.get("/next").status_code == 303


TRAVERSALS = [
    "/static/../guard.py", "/static/..%2fguard.py", "/static/%2e%2e/guard.py",
    "/static/....//guard.py", "/static//etc/passwd", "/static/..%5c..%5cguard.py",
    "/static/%00", "/recordings/..%2f..%2fetc%2fpasswd", "/recordings/../../../etc/passwd",
    "/recordings/%2e%2e/sound", "//etc/passwd", "/../../etc/passwd",
]  # fmt: skip


@pytest.mark.parametrize("path", TRAVERSALS)
def test_no_way_out_of_the_folder(refusing: Page, path: str) -> None:
    """Sent as it is: a tidy client would straighten the path first."""
    with refusing.client() as client:
        cookie = "; ".join(f"{c.name}={c.value}" for c in client.cookies.jar)
    connection = http.client.HTTPConnection(urlsplit(refusing.site).netloc, timeout=10)
    connection.putrequest("GET", path)
    connection.putheader("cookie", cookie)
    connection.endheaders()
    reply = connection.getresponse()
    body = reply.read()
    connection.close()
    assert reply.status in (400, 404), body[:200]
    assert b"root:" not in body
    assert b"ASGI middleware" not in body


def test_a_body_that_is_too_long(page: Page) -> None:
    with page.client() as client:
        path, body = decide(page)
        body["padding"] = "x" * MOST_BYTES
        assert client.post(path, json=body).status_code == 413

        def pieces() -> object:
            for _ in range(MOST_BYTES // 1000 + 2):
                yield b"x" * 1000

        told = client.post(path, content=pieces(), headers={"content-type": "application/json"})
        assert told.status_code == 413
        false = {"content-type": "application/json", "content-length": "-5"}
        with pytest.raises(httpx.HTTPError):
            client.post(path, content=b"{}", headers=false).raise_for_status()
    assert query(page.logbook, "SELECT count(*) FROM history") == [(0,)]


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"null", b"{", b"[" * 100_000, b'{"act": "drop"}', b'{"act": ["confirm"]}',
             b'{"act": "confirm", "rows": 3}', b'{"act": "confirm", "rows": [["x", 1]]}',
             b'{"act": "confirm", "rows": [["x"]]}', b'{"act": "confirm", "rows": []}',
             b'{"act": "write", "fields": 1}', b'{"act": "split", "copies": true}',
             b'{"act": "undo", "step": "x"}'],
)  # fmt: skip
def test_nonsense_is_told_in_a_sentence(refusing: Page, body: bytes) -> None:
    with refusing.client() as client:
        path, _ = decide(refusing)
        told = client.post(path, content=body, headers={"content-type": "application/json"})
    assert told.status_code == 422
    assert told.json()["problem"]
    assert query(refusing.logbook, "SELECT count(*) FROM history") == [(0,)]


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE"])
def test_other_methods(refusing: Page, method: str) -> None:
    with refusing.client() as client:
        path, body = decide(refusing)
        told = client.request(method, path, json=body)
        assert told.status_code in (405, 415)
        assert "access-control-allow-origin" not in told.headers


def test_what_was_heard_is_text(tmp_path: Path) -> None:
    from dataclasses import replace

    path = tmp_path / "log.db"
    row = replace(SYRUP, quote=EVIL, item=EVIL, details={EVIL: EVIL}, hive=None)
    make_logbook(path, [row], extra=EVIL)
    with served(path) as page, page.client() as client:
        html = client.get(f"/recordings/{recording_of(page)}").text
        assert EVIL not in html
        assert html.count("<script") == 1  # our own
        assert "&lt;script&gt;" in html
        uuid = a_row(page)[0]
        form = client.get(f"/recordings/{recording_of(page)}/rows/{uuid}/form").text
        told = client.post(*decide(page)[:1], json=decide(page)[1]).json()
    assert "<script" not in form
    assert all("<script" not in row for row in told["rows"].values())


def test_every_answer_forbids_what_the_page_does_not_do(page: Page) -> None:
    with page.client() as client:
        for path in (
            "/",
            "/learnt",
            "/static/page.js",
            "/nowhere",
            f"/recordings/{recording_of(page)}",
        ):
            headers = client.get(path).headers
            policy = headers["content-security-policy"]
            assert "default-src 'none'" in policy
            assert "script-src 'self'" in policy
            assert "unsafe" not in policy
            assert "frame-ancestors 'none'" in policy
            assert headers["x-content-type-options"] == "nosniff"
            assert headers["referrer-policy"] == "no-referrer"
            assert headers["cache-control"] == "no-store"
    with httpx.Client() as stranger:
        assert "content-security-policy" in stranger.get(page.site).headers


def can_connect(address: str, port: int) -> bool:
    try:
        socket.create_connection((address, port), timeout=3).close()
    except OSError:
        return False
    return True


@pytest.fixture
def house() -> str:
    """This machine's address in its network, with one of the loopback range where it has none."""
    try:
        return lan_address()
    except InputError:
        return "127.0.0.2"


def test_only_this_machine_sees_it(page: Page, house: str) -> None:
    port = urlsplit(page.site).port or 0
    assert can_connect("127.0.0.1", port)
    assert not can_connect(house, port)


def test_in_the_house_with_a_link_of_its_own(logbook: Path, house: str) -> None:
    if house.startswith("127."):
        with pytest.raises(InputError, match="in no network"):
            lan_address()
        return
    with served(logbook, "--lan") as page, page.client() as client:
        port = urlsplit(page.site).port
        shown = client.get("/phone").text
        assert "not encrypted" in shown
        assert "<svg" in shown
        link = shown.partition('<code class="link">')[2].partition("</code>")[0]
        assert link.startswith(f"http://{house}:{port}/enter?token=")
        with httpx.Client() as phone:
            assert phone.get(f"http://{house}:{port}/").status_code == 403
            assert phone.get(link).status_code == 303
            assert "to decide" in phone.get(f"http://{house}:{port}/").text
            foreign = phone.get(f"http://{house}:{port}/", headers={"host": "evil.example"})
            assert foreign.status_code == 421
        with httpx.Client() as other:
            assert other.get(link).status_code == 403


def test_the_code_says_the_link() -> None:
    """Modules drawn for the terminal are those of the standard's reader-tested encoder."""
    import segno

    from fieldvoice.review.page.serve import qr_text

    link = "http://192.0.2.7:8765/enter?token=" + "x" * 32
    lines = [line for line in qr_text(link).splitlines() if line.strip()]
    size = segno.make(link, micro=False).symbol_size(border=0)[0]
    assert max(map(len, lines)) >= size


@pytest.mark.parametrize("version", ["1e999", '"x"', "null", "[]"])
def test_a_version_that_is_no_number_is_refused(refusing: Page, version: str) -> None:
    """JSON may write 1e999, which Python reads as infinity."""
    body = f'{{"act": "confirm", "rows": [["{a_row(refusing)[0]}", {version}]]}}'
    with refusing.client() as client:
        path, _ = decide(refusing)
        told = client.post(path, content=body, headers={"content-type": "application/json"})
    assert 400 <= told.status_code < 500
    assert "pairs of id and version" in told.text
    assert query(refusing.logbook, "SELECT count(*) FROM entries") == [(0,)]


def test_a_small_answer_does_not_wait_for_the_next(page: Page) -> None:
    """Without TCP_NODELAY each answer takes 40 ms, until the other side acknowledges its head."""
    with page.client() as client:
        took = []
        for _ in range(15):
            begun = time.perf_counter()
            assert client.get("/").status_code == 200
            took.append(time.perf_counter() - begun)
    assert min(took[1:]) < 0.03
