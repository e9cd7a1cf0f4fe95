"""`fieldvoice drafts` and `fieldvoice review`: what waits, and going through it."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from pathlib import Path

import click

from fieldvoice.cli.opened import logbook_of, now
from fieldvoice.logbook.opening import Logbook
from fieldvoice.types import Draft, Json, Recording, Register, Step, Stretch

LEAD_IN = 1.0  # seconds played before and after the words


@click.command(epilog="Example: fieldvoice drafts --json")
@click.option("--json", "as_json", is_flag=True, help="Print the drafts as JSON.")
@click.pass_obj
def drafts(logbook: str | None, as_json: bool) -> None:
    """List the drafts that wait for review, the doubtful ones first."""
    from fieldvoice.plain import clock, entry_line, hive_name
    from fieldvoice.review.queue import doubtful_first, open_flags, why

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
        else "No drafts wait."
    )


@click.command(
    epilog="Example: fieldvoice review --accept-unflagged confirms at once what carries no "
    "flag, and then shows you the rest."
)
@click.option(
    "--accept-unflagged", is_flag=True, help="Confirm all drafts without a flag in one act."
)
@click.option("--undo", is_flag=True, help="Take back the last decision, and stop.")
@click.pass_obj
def review(logbook: str | None, accept_unflagged: bool, undo: bool) -> None:
    """Go through the drafts: confirm, edit, reject, split, give to another hive, undo.

    The doubtful ones come first, with the reason. Each decision is kept at once; stop
    when you like and go on another day. Only what you confirm is in the log.
    """
    from fieldvoice.review.acts import accept_unflagged as accept
    from fieldvoice.review.acts import undo_last
    from fieldvoice.review.desk import Session
    from fieldvoice.review.terminal import review as go_through

    with logbook_of(logbook, write=True) as opened:
        session = Session(LogbookDesk(opened), input, _say)
        if undo:
            undo_last(session)
            return
        if accept_unflagged:
            accept(session)
        go_through(session)


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
                return str(error)
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
