"""Whose connection it is: another user of this machine may have seen the link go by.

A link that a browser is opened with stands in that browser's command line for a moment, where
every user of the machine can read it. Linux tells of each connection on this machine to whom
it belongs; elsewhere nothing is known, and nothing is refused for it.
"""

from __future__ import annotations

import os
import socket
import sys
from pathlib import Path

_CONNECTIONS = Path("/proc/net/tcp")

Address = tuple[str, int]


def is_another_user(client: Address | None, server: Address | None) -> bool:
    """Whether a connection was made on this machine by somebody else than this user.

    The machine's own root counts as this user: what carries a connection from outside of a
    virtual machine runs as root, and from root nothing is kept anyway.
    """
    if client is None or server is None or not sys.platform.startswith("linux"):
        return False
    owner = _owner(client, server)
    return owner is not None and owner not in (0, os.getuid())


def _owner(client: Address, server: Address) -> int | None:
    """The user whose end of a connection `client` is; None if it is not of this machine."""
    try:
        wanted = [_as_listed(client), _as_listed(server)]
        for line in _CONNECTIONS.read_text(encoding="ascii").splitlines()[1:]:
            fields = line.split()
            if fields[1:3] == wanted:
                return int(fields[7])
    except (OSError, ValueError, IndexError):
        return None
    return None


def _as_listed(address: Address) -> str:
    """An IPv4 address and port as the kernel lists them: the bytes as one number of its own."""
    number = int.from_bytes(socket.inet_aton(address[0]), sys.byteorder)
    return f"{number:08X}:{address[1]:04X}"
