"""`fieldvoice forget`: the sound goes, the words stay."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import logbook_of, now
from fieldvoice.errors import InputError, RecordingError

if TYPE_CHECKING:
    from fieldvoice.logbook.forgetting import Sound


@click.command(epilog=examples("fieldvoice forget ~/recordings/2026-05-09/saturday.m4a"))
@click.argument("recordings", nargs=-1, required=True, metavar="RECORDING...")
@click.option("--unreviewed", is_flag=True, help="Also where drafts wait for review.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def forget(logbook: str | None, recordings: tuple[str, ...], unreviewed: bool, yes: bool) -> None:
    """Delete the sound of RECORDINGs from this disk; rows and words stay in the logbook.

    RECORDING is its file, or the file's name. Only files whose content is still that of the
    recording are deleted; copies that the logbook does not know of stay where they are.
    """
    from fieldvoice.logbook.forgetting import find_named, forget_sound, sound_files, undecided

    with logbook_of(logbook, write=True) as opened:
        for name in recordings:
            recording = find_named(opened, name)
            left = undecided(opened, recording)
            if left and not unreviewed:
                raise InputError(
                    f"{name}: {left} rows or stretches of it are not decided on; run `fieldvoice "
                    "review` first, or say --unreviewed."
                )
            files = [sound for sound in sound_files(opened, recording) if _is_it(sound)]
            told = ", ".join(str(sound.path) for sound in files) or "what the logbook kept of it"
            if not yes:
                click.confirm(f"Delete {told} for good?", abort=True)
            for sound in files:
                _delete(sound.path)
            forget_sound(opened, recording, now())
            click.echo(f"Deleted: {told}. The words and rows stay.")
        opened.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    click.echo("Copies elsewhere (recorder, phone, backups of the disk) are yours to delete.")


def _is_it(sound: Sound) -> bool:
    """Whether a file still holds what was heard; another one of that name is left alone."""
    from fieldvoice.hearing.decode import sound_hash

    if not sound.path.exists():
        return False
    try:
        return sound_hash(sound.path) == sound.sha256
    except RecordingError:
        return False


def _delete(path: Path) -> None:
    try:
        path.unlink()
    except OSError as error:
        raise RecordingError(
            f"{path} cannot be deleted ({error.strerror}); delete it by hand, then run the same "
            "command again."
        ) from error
