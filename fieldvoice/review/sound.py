"""Hear a piece of a recording again, with whatever player the system has."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

PLAYERS: tuple[tuple[str, ...], ...] = (
    ("ffplay", "-nodisp", "-autoexit", "-loglevel", "quiet"),
    ("mpv", "--no-video", "--really-quiet"),
    ("paplay",),
    ("pw-play",),
    ("aplay", "-q"),
    ("afplay",),
)
_PATIENCE = 15.0  # seconds a player may take beyond the sound's own length


def find_player() -> tuple[str, ...] | None:
    """The first player that is installed, as a command; None if there is none."""
    return next((player for player in PLAYERS if shutil.which(player[0])), None)


def play_file(path: Path, seconds: float) -> str:
    """Play a WAV file of that length. Returns what to tell the keeper, or "".

    Ctrl-C stops the sound only.
    """
    player = find_player()
    if player is None:
        names = ", ".join(command[0] for command in PLAYERS)
        return f"There is no player here to hear it with (looked for {names})."
    try:
        subprocess.run(
            [*player, str(path)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=seconds + _PATIENCE,
            check=True,
        )
    except (subprocess.SubprocessError, OSError):
        return f"{player[0]} could not play it; is the sound on?"
    except KeyboardInterrupt:
        return ""
    return ""
