"""`fieldvoice watch`: what is synced into a folder is taken in."""

from __future__ import annotations

import signal as signals
import sys
import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.listen import RECORDINGS
from fieldvoice.cli.opened import now, path_of
from fieldvoice.cli.paths import Named
from fieldvoice.errors import RecordingError
from fieldvoice.logbook.opening import open_logbook

if TYPE_CHECKING:
    from fieldvoice.listening.inbox import Part, State

EVERY = 5.0  # seconds between two looks


@click.command(
    epilog=examples(
        "fieldvoice watch ~/Sync/phone --yard orchard",
        "fieldvoice watch ~/Sync/phone --service \\\n"
        "      > ~/.config/systemd/user/fieldvoice-watch.service",
    )
)
@click.argument("folder", type=Named())
@click.option("--yard", help="The yard it is about (default: the one of your settings).")
@click.option("--once", is_flag=True, help="Take in what is whole, and stop.")
@click.option(
    "--settle",
    type=click.FloatRange(min=0.0),
    default=10.0,
    show_default=True,
    metavar="SECONDS",
    help="A file that did not grow for so long is whole.",
)
@click.option("--service", is_flag=True, help="Print a systemd user unit that does this, and stop.")
@click.pass_obj
def watch(
    logbook: str | None, folder: Path, yard: str | None, once: bool, settle: float, service: bool
) -> None:
    """Take in recordings and films that a phone, recorder or camera puts into FOLDER.

    Each is heard once, whatever its name, and its drafts wait in the logbook. Chapters of
    one take are joined. The files themselves are never changed, moved or deleted.
    """
    from fieldvoice.listening.inbox import Patience, look
    from fieldvoice.logbook.register import clean_name

    place = clean_name(yard, "yard") if yard is not None else None
    path = path_of(logbook)
    if service:
        click.echo(_unit(path, folder, place, settle), nl=False)
        return
    look(folder)  # refused before the logbook is made
    signals.signal(signals.SIGTERM, signals.default_int_handler)
    patience = Patience(settle, time.monotonic)
    inbox = _Inbox(path, place)
    patience.whole(look(folder))
    if once:
        time.sleep(settle)
        files = look(folder)
        inbox.take_in(files, patience.whole(files))
        return
    click.echo(f"Watching {folder}. Stop with Ctrl-C.")
    while True:
        files = look(folder)
        inbox.take_in(files, patience.whole(files))
        time.sleep(EVERY)


def _unit(path: Path, folder: Path, yard: str | None, settle: float) -> str:
    from fieldvoice.listening.service import unit

    command = [sys.executable, "-m", "fieldvoice", "--logbook", str(path.resolve()), "watch"]
    command += [str(folder.resolve()), "--settle", f"{settle:g}"]
    return unit([*command, *(["--yard", yard] if yard is not None else [])], str(folder.resolve()))


@dataclass(slots=True)
class _Inbox:
    """One folder and one logbook."""

    logbook: Path
    yard: str | None
    _done: set[tuple[Path, State]] = field(default_factory=set)

    def take_in(self, files: Mapping[Path, State], whole: Collection[Path]) -> None:
        """Take in what is whole and was not before; what is still growing waits."""
        from fieldvoice.listening.inbox import still_coming, takes

        fresh = [path for path in sorted(whole) if (path, files[path]) not in self._done]
        if not fresh:
            return
        hashes: dict[Path, str] = {}
        parts = []
        for path in fresh:
            part = self._new(path, files[path], hashes)
            if part is not None:
                parts.append(part)
        unfinished = files.keys() - set(whole)
        for take in takes(parts):
            if not still_coming(take, unfinished):
                self._add(take, files, hashes)

    def _new(self, path: Path, state: State, hashes: dict[Path, str]) -> Part | None:
        """A file with sound in it that was not taken in before; None: there is no more to do."""
        from fieldvoice.hearing.decode import sound_hash
        from fieldvoice.listening.inbox import probe
        from fieldvoice.logbook.inbox import is_taken, taken_before
        from fieldvoice.logbook.recordings import find_recording

        try:
            with open_logbook(self.logbook, create=True) as opened:
                if is_taken(opened, str(path), state.size, state.mtime_ns):
                    self._done.add((path, state))
                    return None
                hashes[path] = sound_hash(path)
                before = taken_before(opened, hashes[path])
                known = find_recording(opened, hashes[path])
            if before is None and known is None:
                return probe(path)
        except RecordingError as error:
            if path in hashes:
                self._note(path, state, hashes[path], None, str(error))
            click.echo(f"Left alone: {error}", err=True)
            return None
        uuid = before.recording if before else known.uuid if known else None
        self._note(path, state, hashes[path], uuid, before.problem if before else "")
        return None

    def _note(
        self, path: Path, state: State, sha256: str, recording: str | None, problem: str = ""
    ) -> None:
        from fieldvoice.logbook.inbox import TakenIn, take_in

        file = TakenIn(sha256, str(path), state.size, state.mtime_ns, recording, problem)
        with open_logbook(self.logbook, create=True) as opened:
            take_in(opened, file, now())
        self._done.add((path, state))

    def _add(
        self, take: Sequence[Part], files: Mapping[Path, State], hashes: Mapping[Path, str]
    ) -> None:
        """One take goes the way of `add`."""
        from fieldvoice.cli.add import told
        from fieldvoice.cli.progress import bars
        from fieldvoice.listening.chapters import join_chapters
        from fieldvoice.pipeline import AddOptions, add_recordings
        from fieldvoice.settings import load_settings

        try:
            path = take[0].path
            if len(take) > 1:
                folder = self.logbook.parent / RECORDINGS
                path = join_chapters(take, [hashes[part.path] for part in take], folder)
                names = ", ".join(part.path.name for part in take)
                click.echo(f"One take in {len(take)} chapters: {names}.")
        except RecordingError as error:
            click.echo(f"Left alone: {error}", err=True)
            return
        with bars() as progress:
            options = AddOptions(
                settings=load_settings(self.logbook), yard=self.yard, progress=progress
            )
            (added,) = add_recordings(self.logbook, [path], options, told)
        uuid = added.recording.uuid if added.recording else None
        for part in take:
            state = files[part.path]
            self._note(part.path, state, hashes[part.path], uuid, added.problem)
