"""`fieldvoice drafts` and `fieldvoice review`: what waits, and going through it."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import logbook_of, now, path_of
from fieldvoice.cli.paths import Named
from fieldvoice.logbook.opening import Logbook
from fieldvoice.types import Draft, Json, Recording, Register, Step, Stretch

if TYPE_CHECKING:
    from fieldvoice.review.desk import Session

LEAD_IN = 1.0  # seconds played before and after the words


@click.command(epilog=examples("fieldvoice drafts --json"))
@click.option("--json", "as_json", is_flag=True, help="Print the drafts as JSON.")
@click.pass_obj
def drafts(logbook: str | None, as_json: bool) -> None:
    """List the drafts that wait for review, the doubtful ones first."""
    from fieldvoice.plain import clock, entry_line, hive_name
    from fieldvoice.review.queue import NOTHING_WAITS, doubtful_first, open_flags, why

    with logbook_of(logbook) as opened:
        desk = LogbookDesk(opened)
        register = desk.register()
        waiting = doubtful_first(desk.drafts(), register)
        visits = {d.recording: desk.recording(d.recording) for d in waiting}
        unheard = desk.unheard()
    if as_json:
        raw = [_draft_json(d, visits[d.recording], register) for d in waiting]
        click.echo(json.dumps(raw, ensure_ascii=False, indent=1))
        return
    heading = ""
    for draft in waiting:
        if draft.recording != heading:
            heading = draft.recording
            recorded = visits[heading].recorded.at
            click.echo(f"\n{recorded:%a %Y-%m-%d %H:%M}, {visits[heading].yard}")
        entry = draft.entry
        click.echo(f"  {clock(entry.start):>6}  {hive_name(entry.hive)}: {entry_line(entry)}")
        click.echo(f'          "{entry.quote}"')
        for flag in open_flags(draft, register):
            click.echo(f"          ! {why(flag, entry)}")
    stretches = sum(len(found) for found in unheard.values())
    if stretches:
        one = stretches == 1
        click.echo(f"\n{stretches} {'stretch' if one else 'stretches'} of speech gave no words.")
    click.echo(
        f"\n{len(waiting)} waiting; go through them with `fieldvoice review`."
        if waiting or stretches
        else NOTHING_WAITS
    )


@click.command(
    epilog=examples(
        "fieldvoice review                       # opens the page",
        "fieldvoice review --accept-unflagged    # at once what carries no flag",
        "fieldvoice review --undo                # take back the last decision",
    )
)
@click.option("--terminal", is_flag=True, help="Review here in the terminal, without a page.")
@click.option(
    "--accept-unflagged", is_flag=True, help="Confirm all drafts without a flag in one act."
)
@click.option("--undo", is_flag=True, help="Take back the last decision, and stop.")
@click.option(
    "--lan",
    is_flag=True,
    help="Show the page to a phone in this network too; says what that means.",
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    help="The page's port (default: 8731, or any if that is taken).",
)
@click.option("--no-browser", is_flag=True, help="Print the page's link and open no browser.")
@click.option(
    "--export-labels",
    type=Named(file_okay=False),
    metavar="FOLDER",
    help="Write recordings that you corrected as labelled narrations, and stop.",
)
@click.pass_obj
def review(
    logbook: str | None,
    terminal: bool,
    accept_unflagged: bool,
    undo: bool,
    lan: bool,
    port: int | None,
    no_browser: bool,
    export_labels: Path | None,
) -> None:
    """Go through the drafts: hear, confirm, edit, reject, split, give to another hive, undo.

    Opens a page in your browser that only this computer can see. The doubtful rows come
    first, with the reason. Each decision is kept at once; stop when you like and go on
    another day. Only what you confirm is in the log.
    """
    from fieldvoice.review.acts import accept_unflagged as accept
    from fieldvoice.review.acts import undo_last
    from fieldvoice.review.desk import Session
    from fieldvoice.review.terminal import review as go_through

    with logbook_of(logbook, write=True) as opened:
        session = Session(LogbookDesk(opened), input, _say)
        if export_labels is not None:
            _export(opened, export_labels)
            return
        if undo:
            undo_last(session)
            return
        if accept_unflagged:
            accept(session)
        if terminal:
            go_through(session)
        elif accept_unflagged:
            _left(session)
        else:
            _serve(opened, path_of(logbook), lan=lan, port=port, browser=not no_browser)
            _left(session)


def _left(session: Session) -> None:
    from fieldvoice.review.queue import NOTHING_WAITS

    left = len(session.desk.drafts())
    click.echo(
        f"{left} {'draft waits' if left == 1 else 'drafts wait'}; go on with `fieldvoice review`."
        if left
        else NOTHING_WAITS
    )


def _serve(opened: Logbook, path: Path, *, lan: bool, port: int | None, browser: bool) -> None:
    from fieldvoice.cli.page import bench_of
    from fieldvoice.review.page.serve import Place, serve

    serve(bench_of(opened, path), Place(port, lan, browser), click.echo)


def _export(opened: Logbook, folder: Path) -> None:
    from fieldvoice.review.labelled import export_labelled

    done = export_labelled(opened, folder)
    for path in done.written:
        click.echo(str(path))
    number = len(done.written)
    click.echo(
        f"{number} {'recording' if number == 1 else 'recordings'} written as labelled narrations; "
        f"left out: {done.waiting} with rows to decide, {done.untouched} without a correction."
    )


def _say(text: str) -> None:
    """Doubts stand out, and so does where a recording begins; plain text into a file."""
    click.secho(text, fg="yellow" if text.startswith("  !") else None, bold="===" in text)


class LogbookDesk:
    """The logbook and the machine's player, as review asks for them."""

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook

    def drafts(self) -> Sequence[Draft]:
        """Drafts that wait."""
        from fieldvoice.logbook.drafts import waiting_drafts

        return waiting_drafts(self._logbook)

    def register(self) -> Register:
        """The hives in use."""
        from fieldvoice.logbook.register import read_register

        return read_register(self._logbook)

    def recording(self, uuid: str) -> Recording:
        """A recording of this logbook."""
        from fieldvoice.logbook.recordings import get_recording

        return get_recording(self._logbook, uuid)

    def unheard(self) -> Mapping[str, Sequence[Stretch]]:
        """Speech without words that nobody has looked at, by recording."""
        from fieldvoice.logbook.recordings import unheard

        return unheard(self._logbook)

    def looked_at(self, recording: str) -> None:
        """Note that somebody has looked at it."""
        from fieldvoice.logbook.recordings import looked_at_unheard

        looked_at_unheard(self._logbook, recording, now())

    def save(self, step: Step) -> None:
        """Keep a decision."""
        from fieldvoice.logbook.drafts import save_step

        save_step(self._logbook, step)

    def steps(self) -> Iterable[Step]:
        """Decisions, newest first."""
        from fieldvoice.logbook.drafts import steps

        return steps(self._logbook)

    def now(self, step: Step) -> Mapping[str, Draft]:
        """The drafts of a step as they are."""
        from fieldvoice.logbook.drafts import get_drafts

        return get_drafts(self._logbook, [change.after.uuid for change in step.changes])

    def add_hive(self, label: str, yard: str) -> None:
        """Put a hive into the register."""
        from fieldvoice.logbook.register_changes import add_hive

        add_hive(self._logbook, label, yard, now())

    def play(self, recording: Recording, start: float, end: float) -> str:
        """Play a piece, with a second before and after it, on the machine's player."""
        from fieldvoice.errors import RecordingError
        from fieldvoice.hearing.cutting import cut
        from fieldvoice.review.sound import play_file

        first, last = max(0.0, start - LEAD_IN), end + LEAD_IN
        with tempfile.TemporaryDirectory() as folder:
            piece = Path(folder) / "piece.wav"
            try:
                cut(Path(recording.path), first, last, piece)
            except RecordingError as error:
                from fieldvoice.logbook.forgetting import why_silent

                return why_silent(self._logbook, recording.uuid, error)
            return play_file(piece, last - first)

    def clock(self) -> datetime:
        """This moment."""
        return now()


def _draft_json(draft: Draft, recording: Recording, register: Register) -> Json:
    """A draft as the contract has it, with its id, its visit, and the flags that stand."""
    from fieldvoice.review.queue import open_flags
    from fieldvoice.wire import entry_to_json

    return (
        {
            "id": draft.uuid,
            "version": draft.version,
            "recording": draft.recording,
            "recorded_at": recording.recorded.at.isoformat(),
            "yard": recording.yard,
            "path": recording.path,
        }
        | entry_to_json(draft.entry, explain=True)
        | {"flags": list(open_flags(draft, register))}
    )
