"""`fieldvoice models`: which speech models are here and which could be."""

from __future__ import annotations

from pathlib import Path

import click

from fieldvoice.cli.examples import examples


@click.command(
    epilog=examples(
        "fieldvoice models                       # what is here",
        "fieldvoice models --get small.en",
    )
)
@click.option("--get", "name", metavar="NAME", help="Download a model; needs a network.")
@click.pass_obj
def models(logbook: str | None, name: str | None) -> None:
    """Show the speech models, or fetch one."""
    from fieldvoice.hearing.catalog import catalog
    from fieldvoice.hearing.weights import whereabouts
    from fieldvoice.settings import load_settings, logbook_path

    settings = load_settings(logbook_path(Path(logbook) if logbook else None))
    if name is not None:
        from fieldvoice.hearing.fetch import fetch

        weights = fetch(name)
        click.echo(f"{name} is here: {weights.folder}")
        return
    for model in catalog().values():
        source = whereabouts(model, settings.model_folder)
        here = {
            "folder": "here (your folder)",
            "wheel": "here (installed)",
            "download": "here (downloaded)",
            None: f"fieldvoice models --get {model.name}",
        }[source]
        mark = "*" if model.name == settings.model else " "
        click.echo(
            f"{mark} {model.name:9} {model.size / 1e6:4.0f} MB  {model.licence}  {here}\n"
            f"              {model.about}"
        )
    click.echo("\n* the model your settings choose. Another for once: --model NAME")
