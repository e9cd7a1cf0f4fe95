"""A unit for systemd's user services, so that a folder is watched from login on."""

from __future__ import annotations

from collections.abc import Sequence

_UNIT = """\
[Unit]
Description=fieldvoice takes in recordings from {folder}

[Service]
ExecStart={command}
Restart=on-failure
RestartSec=30
Nice=10

[Install]
WantedBy=default.target
"""


def unit(command: Sequence[str], folder: str) -> str:
    """The unit file's text, for `~/.config/systemd/user/fieldvoice-watch.service`."""
    return _UNIT.format(
        folder=folder.replace("%", "%%").replace("\n", " "),
        command=" ".join(quoted(word) for word in command),
    )


def quoted(word: str) -> str:
    r"""A word of ExecStart, as systemd.service(5) and systemd.syntax(7) have it.

    >>> print(quoted('/media/my 100% "new" yard'))
    "/media/my 100%% \"new\" yard"
    """
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return '"' + escaped.replace("%", "%%").replace("$", "$$") + '"'
