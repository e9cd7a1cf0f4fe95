"""`fieldvoice calendar` and `fieldvoice sheet`: what is due, to take along."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fieldvoice.cli.ask import ask_of, framed
from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import logbook_of, now
from fieldvoice.cli.paths import Named

_FILE = Named(dir_okay=False)


@click.command(epilog=examples("fieldvoice calendar --yard orchard --to due.ics"))
@framed
@click.option("--to", "file", type=_FILE, required=True, help="The file to write, as due.ics.")
@click.pass_obj
def calendar(logbook: str | None, /, file: Path, **frame: Any) -> None:
    """Write what is due as an iCalendar file for your phone's calendar."""
    from fieldvoice.answers.calendar_file import calendar_text, dated
    from fieldvoice.answers.plans import open_dues
    from fieldvoice.answers.writing import write_whole

    with logbook_of(logbook) as opened:
        found = open_dues(ask_of(opened, logbook, **frame)).dues
    write_whole(file, calendar_text(found, now()))
    days = sum(dated(one) is not None for one in found)
    click.echo(f"{days} events written to {file}.")
    if days < len(found):
        click.echo(f"{len(found) - days} plans have no day; `fieldvoice plans` gives them one.")


@click.command(epilog=examples("fieldvoice sheet --yard orchard --to orchard.html"))
@framed
@click.option("--to", "file", type=_FILE,
              help="Write it to this file; .html prints a yard to a page.")  # fmt: skip
@click.pass_obj
def sheet(logbook: str | None, /, file: Path | None, **frame: Any) -> None:
    """A sheet to print for each yard: what to do at each hive, and what to bring."""
    from fieldvoice.answers.sheet import sheet_html, sheet_text, sheets
    from fieldvoice.answers.writing import write_whole

    with logbook_of(logbook) as opened:
        pages = sheets(ask_of(opened, logbook, **frame))
    if file is None:
        click.echo(sheet_text(pages), nl=False)
        return
    html = file.suffix.lower() in (".html", ".htm")
    write_whole(file, sheet_html(pages) if html else sheet_text(pages))
    click.echo(f"{len(pages)} {'page' if len(pages) == 1 else 'pages'} written to {file}.")
