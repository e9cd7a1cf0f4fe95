"""Nothing leaves the computer: the whole flow with the network denied, and every call for it seen.

Each command runs in a network namespace of its own that has not even a loopback device up,
under strace, which writes down every system call that could reach for a network.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fieldvoice.hearing.cutting import cut
from fieldvoice.locate import shipped
from tests.makers import COMMAND, query
from tests.trust.worth import log_of

DENIED = ["unshare", "--net", "--map-root-user"]
CALLS = "trace=connect,sendto,sendmsg,sendmmsg,bind"
REACHES = re.compile(r"AF_INET6?\b|AF_PACKET")
"""Sockets inside the computer (AF_UNIX, AF_NETLINK) are no network."""
ASKS_ITSELF = re.compile(r'bind\(.*sin6_port=htons\(0\).*"::1"')
"""urllib3, when it is imported, binds a port of this computer to learn whether it has IPv6."""
QUIET = ("CI", "ORT_DISABLE_TELEMETRY", "ORT_RUNNING_UNIT_TESTS")
"""With these set, onnxruntime would keep quiet by itself: not here, where it must be kept quiet."""


def denied(folder: Path, *words: str | Path, keys: str = "") -> subprocess.CompletedProcess[str]:
    """Run the installed command without a network; its calls are in `calls.txt`."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("FIELDVOICE_", "XDG_")) and name not in QUIET
    }
    return subprocess.run(
        [*DENIED, "strace", "-f", "-qq", "--seccomp-bpf", "-A", "-e", CALLS,
         "-o", str(folder / "calls.txt"), str(COMMAND), "--logbook", str(folder / "log.db"),
         *map(str, words)],
        input=keys, capture_output=True, text=True, check=False, timeout=280,
        env=environment | {"HOME": str(folder)},
    )  # fmt: skip


def reached(folder: Path) -> list[str]:
    """Calls that reached for a network."""
    return [
        line
        for line in (folder / "calls.txt").read_text(errors="replace").splitlines()
        if REACHES.search(line) and not ASKS_ITSELF.search(line)
    ]


def test_a_call_would_be_seen(tmp_path: Path) -> None:
    """The net is no net if it catches nothing."""
    ask = "import socket; socket.create_connection(('192.0.2.1', 9), timeout=3)"
    done = subprocess.run(
        [*DENIED, "strace", "-f", "-qq", "--seccomp-bpf", "-A", "-e", CALLS,
         "-o", str(tmp_path / "calls.txt"), sys.executable, "-c", ask],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "unreachable" in done.stderr
    assert len(reached(tmp_path)) == 1


@pytest.mark.model
def test_the_whole_flow_reaches_for_no_network(tmp_path: Path) -> None:
    talk = tmp_path / "orchard-may.wav"
    cut(shipped("demo") / "orchard-may.ogg", 0.0, 30.0, talk)
    for words in (
        ["yard", "add", "orchard"],
        ["hives", "add", "--yard", "orchard", "3", "5", "7", "8", "9", "10"],
        ["add", talk, "--yard", "orchard", "--recorded-at", "2026-05-09T10:20"],
        ["drafts"],
        ["extract", shipped("demo") / "orchard-may.txt", "--recorded-at", "2026-05-09"],
        ["review", "--accept-unflagged"],
        ["log"],
        ["due"],
        ["feed", "--json"],
        ["picture", "year", "--to", tmp_path / "year.svg"],
        ["export", "--csv", tmp_path / "log.csv"],
        ["backup", tmp_path / "copy.db"],
        ["models"],
        ["forget", talk.name, "--yes", "--unreviewed"],
    ):
        done = denied(tmp_path, *words)
        assert done.returncode == 0, (words, done.stderr)
        assert reached(tmp_path) == [], words
    assert query(tmp_path / "log.db", "SELECT count(*) FROM recordings") == [(1,)]
    assert log_of(tmp_path / "log.db").total() > 0
    # What is left in the keeper's home is this program's own.
    left = {path.name for path in (tmp_path / ".cache").iterdir()}
    assert left <= {"fieldvoice", "matplotlib", "fontconfig"}


@pytest.mark.model
def test_a_library_that_reports_home_would_be_seen(tmp_path: Path) -> None:
    """onnxruntime without what keeps it quiet tries to send usage data; then all is well."""
    load = "import onnxruntime as o, time; o.InferenceSession({!r}); time.sleep(1)".format(
        str(shipped("models") / "extraction" / "encoder.onnx")
    )
    set_aside = (*QUIET, "XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME")
    environment = {k: v for k, v in os.environ.items() if k not in set_aside}
    for first, quiet in (("", False), ("import fieldvoice; ", True)):
        home = tmp_path / str(quiet)
        home.mkdir()
        subprocess.run(
            [*DENIED, sys.executable, "-c", first + load], check=True, capture_output=True,
            env=environment | {"HOME": str(home)},
        )  # fmt: skip
        assert (not list(home.rglob("deviceid"))) is quiet


def test_the_page_listens_here_and_reaches_nowhere(tmp_path: Path) -> None:
    """It binds its own address on this computer; it connects to nothing."""
    from tests.trust.worth import make_logbook

    make_logbook(tmp_path / "log.db", rows=8, waiting=2)
    calls = tmp_path / "calls.txt"
    ask = (
        "import re, sys, urllib.request, http.cookiejar\n"
        "link = sys.argv[1]\n"
        "jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())\n"
        "opened = urllib.request.build_opener(jar).open(link, timeout=20)\n"
        "print(opened.status)\n"
    )
    inside = (
        f'ip link set lo up 2>/dev/null || {sys.executable} -c "{LOOPBACK_UP}"; '
        f"set -m; strace -f -qq --seccomp-bpf -A -e {CALLS} -o {calls} {COMMAND} --logbook "
        f"{tmp_path}/log.db review --no-browser > {tmp_path}/out.txt 2>&1 & job=$!; "
        f"for i in $(seq 100); do grep -q enter {tmp_path}/out.txt && break; sleep 0.2; done; "
        f"sleep 0.5; {sys.executable} -c '{ask}' "
        f"$(grep -o 'http://[^ ]*token=[^ ]*' {tmp_path}/out.txt); kill -- -$job; wait"
    )
    started = time.monotonic()
    done = subprocess.run(
        [*DENIED, "bash", "-c", inside], capture_output=True, text=True, check=False, timeout=90,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    assert done.stdout.strip().endswith("200"), (done.stdout, done.stderr)
    assert time.monotonic() - started < 60
    bound = [line for line in reached(tmp_path) if " bind(" in line]
    assert len(bound) == 1
    assert 'inet_addr("127.0.0.1")' in bound[0]
    assert [line for line in reached(tmp_path) if " connect(" in line] == []


LOOPBACK_UP = (
    "import fcntl, socket, struct; s = socket.socket(socket.AF_INET, socket.SOCK_DGRAM); "
    "fcntl.ioctl(s, 0x8914, struct.pack('16sH14s', b'lo', 0x1, bytes(14)))"
)
"""SIOCSIFFLAGS (netdevice(7)): the loopback device of the namespace is put up."""
