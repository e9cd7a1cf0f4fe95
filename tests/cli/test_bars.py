"""Bars are for a person at a terminal; results go where they are sent."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

SCRIPT = """
import click
from fieldvoice.cli.progress import bars
with bars() as progress:
    for recording in range(2):
        for second in range(3):
            progress("hear", second, 2)
        click.echo(f"recording {recording} is done")
"""


def run(terminal: bool) -> tuple[str, str]:
    """What came on stdout (a pipe) and on stderr (a terminal, or a pipe)."""
    if not terminal:
        done = subprocess.run(
            [sys.executable, "-c", SCRIPT], capture_output=True, text=True, timeout=60, check=True
        )
        return done.stdout, done.stderr
    ours, theirs = pty.openpty()
    process = subprocess.Popen(
        [sys.executable, "-c", SCRIPT], stdout=subprocess.PIPE, stderr=theirs, text=True,
        env=os.environ | {"TERM": "xterm", "COLUMNS": "80"},
    )  # fmt: skip
    os.close(theirs)
    drawn = b""
    while True:
        try:
            piece = os.read(ours, 4096)
        except OSError:  # how a terminal's end is told on Linux
            break
        if not piece:
            break
        drawn += piece
    out, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    return out, drawn.decode()


def test_results_stay_in_the_pipe_and_bars_on_the_terminal() -> None:
    out, drawn = run(terminal=True)
    assert out == "recording 0 is done\nrecording 1 is done\n"
    assert "hear" in drawn
    assert "0:00:00" in drawn  # the time left
    assert "is done" not in drawn


def test_nobody_looking_nothing_drawn() -> None:
    assert run(terminal=False) == ("recording 0 is done\nrecording 1 is done\n", "")
