"""Commands of a keeper that change a logbook or a file, each ready to be struck."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from tests.makers import COMMAND
from tests.trust.worth import make_logbook

OLD = "step_0001_first"

Words = Callable[[Path], list[str]]


@dataclass(frozen=True, slots=True)
class Scene:
    """A command in a folder with `log.db` and what else it needs."""

    name: str
    words: Words
    keys: str = ""  # what is typed
    again: Words | None = None  # the next command; None: the same one
    at_once: bool = False  # all of it or nothing
    repeats: bool = True  # after the next command all is as if nothing had struck
    changes_log: bool = False  # rows of the log may go, as they do in a run that is not struck


def fieldvoice(folder: Path, *words: object) -> list[str]:
    """The installed command on the folder's logbook."""
    return [str(COMMAND), "--logbook", str(folder / "log.db"), *map(str, words)]


def adding(folder: Path, sound: str = "talk.ogg") -> list[str]:
    """`fieldvoice add` with its own decoder, and words that are given."""
    return [
        sys.executable, "-m", "tests.trust.adding", "--logbook", str(folder / "log.db"), "add",
        str(folder / sound), "--recorded-at", "2026-06-01T09:00",
    ]  # fmt: skip


MIXED = "e status planned\nc\nr\nh 9\nc\ns 7, 8\nc\nc\nu\nn\nc\nr\nc\nw\nq\n"

SCENES = (
    Scene("add", adding),
    Scene(
        "review in the terminal", lambda f: fieldvoice(f, "review", "--terminal"), "c\n" * 13 + "q\n"
    ),
    Scene(
        "review with edits", lambda f: fieldvoice(f, "review", "--terminal"), MIXED,
        again=lambda f: fieldvoice(f, "review", "--accept-unflagged"), repeats=False,
    ),
    Scene(
        "accept unflagged", lambda f: fieldvoice(f, "review", "--accept-unflagged"), at_once=True
    ),
    Scene(
        "undo", lambda f: fieldvoice(f, "review", "--undo"), at_once=True, repeats=False,
        again=lambda f: fieldvoice(f, "log"), changes_log=True,
    ),
    Scene("merge", lambda f: fieldvoice(f, "merge", f / "other.db"), at_once=True),
    Scene("backup", lambda f: fieldvoice(f, "backup", f / "copy.db"), at_once=True),
    Scene(
        "restore", lambda f: fieldvoice(f, "restore", f / "backup.db", "--yes"), at_once=True,
        changes_log=True,
    ),
    Scene("migration", lambda f: fieldvoice(f, "log"), at_once=True),
    Scene("import", lambda f: fieldvoice(f, "import", f / "log.csv"), at_once=True),
    Scene(
        "register", lambda f: fieldvoice(f, "hives", "add", *range(31, 37)), repeats=False,
        again=lambda f: fieldvoice(f, "hives"),
    ),
)  # fmt: skip


def prepare(kit: Path) -> None:
    """Everything that scenes start from, made once."""
    import subprocess

    from tests.trust.sounds import talk

    kit.mkdir(parents=True, exist_ok=True)
    make_logbook(kit / "log.db")
    make_logbook(kit / "other.db", first=5)
    for name in ("talk.ogg", "talk.wav", "talk.mp3", "talk.flac", "talk.m4a", "talk.webm"):
        talk(kit / name, seconds=25.0)
    fresh = make_logbook(kit / "fresh.db", first=8)
    for words in (
        ["backup", str(kit / "backup.db")],
        ["--logbook", str(fresh), "export", "--csv", str(kit / "log.csv")],
    ):
        logbook = [] if "--logbook" in words else ["--logbook", str(kit / "log.db")]
        subprocess.run([str(COMMAND), *logbook, *words], check=True, capture_output=True)
    # Confirmed after the backup was made, so that a restored logbook differs from it.
    subprocess.run(
        fieldvoice(kit, "review", "--terminal"), input="c\nc\nq\n", text=True, check=True,
        capture_output=True,
    )  # fmt: skip


def lay_out(scene: Scene, kit: Path, folder: Path) -> None:
    """A folder in which the scene can begin."""
    folder.mkdir(parents=True)
    for path in kit.iterdir():
        if path.name not in ("fresh.db",):
            shutil.copy(path, folder / path.name)
    if scene.name == "migration":
        from tests.trust.releases import make_release

        (folder / "log.db").unlink()
        make_release(OLD, folder / "log.db")
