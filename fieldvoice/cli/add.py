"""`fieldvoice add`: recordings become drafts in the logbook."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.paths import Named

if TYPE_CHECKING:
    from fieldvoice.pipeline import Added

HOW_KNOWN = {
    "option": "as you said",
    "container": "from the recorder's own note in the file",
    "file name": "from the file's name",
    "file time": "from the file's date; say --recorded-at if that is wrong",
}


@click.command(
    epilog=examples(
        "fieldvoice add --yard home monday.m4a",
        "fieldvoice add /media/recorder          # every recording of a folder",
    )
)
@click.argument(
    "recordings",
    nargs=-1,
    required=True,
    type=Named(),
    metavar="RECORDING...",
)
@click.option(
    "--recorded-at",
    metavar="WHEN",
    help="When it was recorded, as 2026-05-03T09:30 (default: asked of the file).",
)
@click.option("--yard", help="The yard it is about (default: the one of your settings).")
@click.option("--engine", help="whisper, ctranslate2 or auto (default: your settings).")
@click.option("--model", help="A model of `fieldvoice models` (default: your settings).")
@click.option("--dask", metavar="ADDRESS", help="Hear on the Dask cluster with this scheduler.")
@click.option("--json", "as_json", is_flag=True, help="Print what became of each as JSON.")
@click.pass_context
def add(
    ctx: click.Context,
    recordings: tuple[Path, ...],
    recorded_at: str | None,
    yard: str | None,
    engine: str | None,
    model: str | None,
    dask: str | None,
    as_json: bool,
) -> None:
    """Hear RECORDINGs (files or folders) and put what they say into the logbook as drafts.

    Nothing is in the log before you confirm it with `fieldvoice review`. A recording
    that is known already is recognised by its content. When something stops the work,
    run the same command again: it goes on where it was.
    """
    from fieldvoice.cli.crew import crew_at
    from fieldvoice.cli.opened import path_of
    from fieldvoice.cli.progress import bars
    from fieldvoice.logbook.register import clean_name
    from fieldvoice.pipeline import AddOptions, add_recordings, hear_recording, make_ready
    from fieldvoice.settings import load_settings

    path = path_of(ctx.obj)
    settings = load_settings(path)
    settings = replace(settings, engine=engine or settings.engine, model=model or settings.model)
    tell = _quiet if as_json else told
    with crew_at(dask, settings.model_folder) as crew, bars() as progress:
        options = AddOptions(
            hear=partial(hear_recording, crew=crew, signals=path.parent),
            ready=make_ready,
            settings=settings,
            recorded_at=recorded_at,
            yard=clean_name(yard, "yard") if yard is not None else None,
            progress=progress,
        )
        done = add_recordings(path, recordings, options, tell)
    if as_json:
        click.echo(json.dumps([_to_json(added) for added in done], ensure_ascii=False, indent=1))
    elif any(added.drafts for added in done):
        click.echo("Go through the drafts with `fieldvoice review`.")
    if any(added.outcome == "failed" for added in done):
        ctx.exit(2)


def _quiet(added: Added) -> None:
    if added.outcome == "failed":
        click.echo(f"fieldvoice: {added.problem}", err=True)


def told(added: Added) -> None:
    """Say what became of one recording."""
    if added.recording is None:
        _quiet(added)
        return
    words = {
        "added": f"{_count(added.drafts, 'draft')}",
        "finished": f"{_count(added.drafts, 'draft')}, gone on from an earlier run",
        "known": f"in the logbook already, with {_count(added.drafts, 'draft')}",
        "failed": "",
    }[added.outcome]
    click.echo(f"{added.path.name}: {words}.")
    recorded = added.recording.recorded
    click.echo(
        f"  Recorded {recorded.at:%Y-%m-%d %H:%M} ({HOW_KNOWN[recorded.source]}), "
        f"yard {added.recording.yard}."
    )
    if added.unheard:
        click.echo(
            f"  {_count(added.unheard, 'stretch', 'stretches')} of speech gave no words; "
            "`fieldvoice review` shows where."
        )


def _to_json(added: Added) -> dict[str, object]:
    recording = added.recording
    return {
        "path": str(added.path),
        "outcome": added.outcome,
        "drafts": added.drafts,
        "unheard": added.unheard,
        "problem": added.problem or None,
        "recording": recording.uuid if recording else None,
        "yard": recording.yard if recording else None,
        "recorded_at": recording.recorded.at.isoformat() if recording else None,
        "recorded_at_source": recording.recorded.source if recording else None,
    }


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"
