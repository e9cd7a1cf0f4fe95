"""`fieldvoice transcribe`: what was said in one recording."""

from __future__ import annotations

import json
from pathlib import Path

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.paths import Named
from fieldvoice.types import Transcript


@click.command(
    epilog=examples(
        "fieldvoice transcribe saturday.m4a",
        "fieldvoice transcribe saturday.m4a --json > saturday.json",
    )
)
@click.argument("recording", type=Named())
@click.option(
    "--register",
    type=Named(),
    help="A JSON list of hive labels to expect (default: the logbook's own).",
)
@click.option("--engine", help="whisper, ctranslate2 or auto (default: your settings).")
@click.option("--model", help="A model of `fieldvoice models` (default: your settings).")
@click.option("--dask", metavar="ADDRESS", help="Hear on the Dask cluster with this scheduler.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON, as `fieldvoice extract` reads.")
@click.pass_obj
def transcribe(
    logbook: str | None,
    recording: Path,
    register: Path | None,
    engine: str | None,
    model: str | None,
    dask: str | None,
    as_json: bool,
) -> None:
    """Print what was said in RECORDING."""
    from fieldvoice import wire
    from fieldvoice.cli.crew import crew_at
    from fieldvoice.cli.progress import bars
    from fieldvoice.hearing.decode import check_recording
    from fieldvoice.hearing.engines.load import load_engine, load_second
    from fieldvoice.hearing.transcribe import hear
    from fieldvoice.hearing.vocabulary import vocabulary_from
    from fieldvoice.logbook.register import read_register_of
    from fieldvoice.settings import load_settings, logbook_path
    from fieldvoice.trade.load import trade_file

    check_recording(recording)
    path = logbook_path(Path(logbook) if logbook else None)
    settings = load_settings(path)
    known = wire.read_register(register) if register else read_register_of(path)
    with crew_at(dask, settings.model_folder) as crew, bars() as progress:
        transcript = hear(
            recording,
            engine=load_engine(
                engine or settings.engine, model or settings.model, settings.model_folder
            ),
            second=load_second(model or settings.model, settings.model_folder),
            vocabulary=vocabulary_from(trade_file("speech"), known.labels),
            progress=progress,
            crew=crew,
        )
    if as_json:
        click.echo(json.dumps(wire.transcript_to_json(transcript), ensure_ascii=False, indent=1))
    else:
        click.echo("\n".join(_lines(transcript)))


def _lines(transcript: Transcript) -> list[str]:
    """One line a stretch of speech, with its time; what was not understood is shown too."""
    said = [(s.start, s.text) for s in transcript.segments]
    said += [
        (u.start, f"[{u.end - u.start:.0f} s of speech not understood]") for u in transcript.unheard
    ]
    if not said:
        return ["[no speech in this recording]"]
    return [f"{int(at // 60):3}:{int(at % 60):02}  {text}" for at, text in sorted(said)]
