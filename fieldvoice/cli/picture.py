"""`fieldvoice picture`: mites, strength, feed, weight, or a yard's year, drawn."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldvoice.cli.ask import ask_of, framed
from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import logbook_of
from fieldvoice.cli.paths import Named


@click.command(epilog=examples("fieldvoice picture mites 7 --to mites-7.svg"))
@click.argument("what", type=click.Choice(["mites", "strength", "feed", "weight", "year"]))
@framed
@click.option("--to", "file", required=True, type=Named(dir_okay=False),
              help="The file to write; .svg or .png.")  # fmt: skip
@click.pass_obj
def picture(logbook: str | None, /, what: str, file: Path, **frame: Any) -> None:
    """Draw a picture of the log to a file."""
    kind = file.suffix.lower().lstrip(".")
    if kind not in ("svg", "png"):
        raise click.UsageError(f"{file} must end in .svg or .png.")
    from fieldvoice.answers.pictures import picture as draw
    from fieldvoice.answers.writing import write_bytes_whole

    with logbook_of(logbook) as opened:
        drawn = draw(ask_of(opened, logbook, **frame), what, kind)
    write_bytes_whole(file, drawn)
    click.echo(f"{file} written.")
