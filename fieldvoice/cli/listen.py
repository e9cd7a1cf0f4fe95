"""`fieldvoice listen`: talk with both hands in a hive, and it is kept."""

from __future__ import annotations

import signal as signals
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import now, path_of
from fieldvoice.cli.paths import Named

if TYPE_CHECKING:
    from fieldvoice.listening.meter import Level
    from fieldvoice.listening.recover import Joined
    from fieldvoice.listening.source import Source
    from fieldvoice.settings import Settings

PIECES = "listening"
"""Folder beside the logbook with sessions that are not safe in it yet."""
RECORDINGS = "recordings"
"""Folder beside the logbook with what was recorded here."""


@click.command(
    epilog=examples(
        "fieldvoice listen --yard orchard",
        "fieldvoice listen --live                # words on the screen as you talk",
        "fieldvoice listen --devices             # which microphones there are",
    )
)
@click.option("--yard", help="The yard it is about (default: the one of your settings).")
@click.option("--device", metavar="NAME", help="The microphone, by name or number.")
@click.option("--devices", is_flag=True, help="List the microphones, and stop.")
@click.option(
    "--live",
    is_flag=True,
    help="Hear it while it runs: words a moment later, drafts every few minutes.",
)
@click.option("--no-signals", is_flag=True, help="Record only; signals are heard at the end.")
@click.option("--tones", is_flag=True, help="Answer signals by a tone, never by a sentence.")
@click.option(
    "--play",
    type=Named(dir_okay=False, exists=True),
    metavar="FILE",
    help="Play FILE as if you said it now, to try things out.",
)
@click.pass_obj
def listen(
    logbook: str | None,
    yard: str | None,
    device: str | None,
    devices: bool,
    live: bool,
    no_signals: bool,
    tones: bool,
    play: Path | None,
) -> None:
    """Record until told to stop; then hear it and put drafts into the logbook.

    What you say is on the disk within two seconds. After a power cut, the next `listen`
    joins what was recorded and adds it; nothing is deleted before it is in the logbook.
    Say "attention logbook, stop listening" or press Ctrl-C to end.
    """
    from fieldvoice.cli.listening import Along, along
    from fieldvoice.listening.microphone import Microphone
    from fieldvoice.listening.microphone import devices as found_devices
    from fieldvoice.listening.record import record, session
    from fieldvoice.listening.source import FileSource
    from fieldvoice.logbook.register import clean_name
    from fieldvoice.settings import load_settings

    if devices:
        click.echo("\n".join(found_devices()) or "There is no microphone.")
        return
    path = path_of(logbook)
    settings = load_settings(path)
    recover(path, settings)
    place = clean_name(yard, "yard") if yard is not None else settings.yard
    source: Source = FileSource(play) if play is not None else Microphone(device)
    with stopping() as stop, session(path.parent / PIECES, source.rate, now(), place) as writer:
        screen = Screen(f"Recording for the yard {place}. Stop with Ctrl-C.", words=live)
        wanted = Along(stop=stop, signals=not no_signals, tones=tones)
        with along(path, replace(settings, yard=place), writer, screen, wanted) as listener:
            record(source, writer, stop, screen.show, listener)
        screen.clear()
    keep(writer.folder, path, settings)


def recover(path: Path, settings: Settings) -> None:
    """Join and add what an earlier `listen` left behind."""
    from fieldvoice.listening.recover import sessions

    for session in sessions(path.parent / PIECES):
        click.echo("An earlier recording was cut off; it is recovered first.")
        keep(session, path, settings)


def keep(session: Path, path: Path, settings: Settings) -> None:
    """One session becomes a recording, goes the way of `add`, and only then loses its pieces."""
    from fieldvoice.cli.add import told
    from fieldvoice.cli.progress import bars
    from fieldvoice.listening.notes import session_of
    from fieldvoice.listening.recover import forget, join, sessions
    from fieldvoice.pipeline import AddOptions, add_recordings, make_ready

    if session not in sessions(session.parent):
        click.echo("Nothing was recorded.")
        forget(session)
        return
    joined = join(session, path.parent / RECORDINGS)
    _say_joined(joined)
    make_ready(joined.path, settings, session_of(joined.path))
    with bars() as progress:
        options = AddOptions(settings=settings, yard=joined.yard, progress=progress)
        (added,) = add_recordings(path, [joined.path], options, told)
    if added.outcome != "failed":
        forget(session)
    if added.drafts:
        click.echo("Go through the drafts with `fieldvoice review`.")


def _say_joined(joined: Joined) -> None:
    from fieldvoice.plain import clock

    click.echo(f"{clock(joined.seconds)} recorded: {joined.path}")
    if not joined.ended:
        click.echo("  It was cut off; at most the last two seconds before that are missing.")
    if joined.damaged:
        click.echo(f"  {joined.damaged} pieces were damaged; there is silence in their place.")
    for gap in joined.gaps:
        click.echo(f"  No sound from {clock(gap.start)} to {clock(gap.end)}.")


@contextmanager
def stopping() -> Iterator[threading.Event]:
    """An event that Ctrl-C, a closed terminal or a shutdown sets, instead of breaking off."""
    stop = threading.Event()
    wanted = [signals.SIGINT, signals.SIGTERM, signals.SIGHUP]
    before = {one: signals.signal(one, lambda *_: stop.set()) for one in wanted}
    try:
        yield stop
    finally:
        for one, handler in before.items():
            signals.signal(one, handler)


@dataclass(slots=True)
class Screen:
    """The line with the level, and what is said above it."""

    begins: str  # said when the first sound has come
    words: bool  # show the words too
    _drawn: int = 0

    def show(self, second: float, level: Level, said: str) -> None:
        """A block was recorded."""
        from fieldvoice.listening.meter import bar
        from fieldvoice.plain import clock

        if self.begins and second:
            self.say(self.begins)
            self.begins = ""
        if said:
            self.say(said)
        if sys.stderr.isatty():
            line = f"{clock(second):>8}  {bar(level)}"
            sys.stderr.write(f"\r{line:<{self._drawn}}")
            sys.stderr.flush()
            self._drawn = len(line)

    def say(self, text: str) -> None:
        """A line that stays."""
        self.clear()
        click.echo(text)

    def clear(self) -> None:
        """Take the level away."""
        if self._drawn:
            sys.stderr.write(f"\r{'':<{self._drawn}}\r")
            sys.stderr.flush()
            self._drawn = 0
