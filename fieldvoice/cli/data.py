"""Your data: import, backup, restore, merge, and the shape of the export."""

from __future__ import annotations

import json
from pathlib import Path

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import logbook_of, now, path_of
from fieldvoice.cli.paths import Named
from fieldvoice.settings import load_settings

_FILE = Named(dir_okay=False)


@click.command(
    "import",
    epilog=examples(
        "fieldvoice import log.csv               # an export of fieldvoice",
        "fieldvoice import old.csv --column day=Date --column hive=Hive \\\n"
        "      --column value:amount:litre=Litres --set kind=feed --set action=give \\\n"
        "      --set item=syrup --set status=done",
    ),
)
@click.argument("file", type=_FILE)
@click.option("--column", "columns", multiple=True, metavar="FIELD=NAME",
              help="The column that holds a field: day, time, yard, hive, kind, action, item, "
              "status, quote, value:ROLE:UNIT, detail:NAME.")  # fmt: skip
@click.option("--set", "fixed", multiple=True, metavar="FIELD=TEXT",
              help="A field that is the same for all rows.")  # fmt: skip
@click.option("--yard", help="The yard, where no column names it (default: your settings).")
@click.option("--add-hives", is_flag=True, help="Add hives that the register does not know.")
@click.pass_obj
def import_(
    logbook: str | None,
    file: Path,
    columns: tuple[str, ...],
    fixed: tuple[str, ...],
    yard: str | None,
    add_hives: bool,
) -> None:
    """Take rows from a CSV or JSON file: an export, or old records of any shape.

    Importing a file twice doubles nothing.
    """
    from fieldvoice.answers.reading_in import read_written
    from fieldvoice.logbook.importing import import_rows

    place = yard or load_settings(path_of(logbook)).yard
    rows = read_written(file, _pairs(columns), _pairs(fixed), place, now())
    with logbook_of(logbook, create=True) as opened:
        done = import_rows(opened, rows, str(file), now(), add_hives=add_hives)
    known = f", {done.known} were there already" if done.known else ""
    click.echo(f"{done.rows} rows imported{known}.")
    if done.hives:
        click.echo(f"Hives added: {', '.join(done.hives)}.")


def _pairs(words: tuple[str, ...]) -> dict[str, str]:
    pairs = {}
    for word in words:
        field, sign, name = word.partition("=")
        if not sign or not field or not name:
            raise click.UsageError(f"{word!r} is no pair; write it as day=Date.")
        pairs[field] = name
    return pairs


@click.command(epilog=examples("fieldvoice backup ~/backups/log-2026-05-09.db"))
@click.argument("file", type=_FILE)
@click.pass_obj
def backup(logbook: str | None, file: Path) -> None:
    """Write a whole copy of the logbook to FILE and check that it opens."""
    from fieldvoice.logbook.backup import backup as copy

    with logbook_of(logbook) as opened:
        rows = copy(opened, file)
    click.echo(f"{file} holds the whole logbook ({rows} rows of the log) and opens.")


@click.command(epilog=examples("fieldvoice restore ~/backups/log-2026-05-09.db"))
@click.argument("file", type=_FILE)
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.pass_obj
def restore(logbook: str | None, file: Path, yes: bool) -> None:
    """Go back to the backup FILE; the present logbook is put aside, not deleted."""
    from fieldvoice.logbook.backup import check
    from fieldvoice.logbook.backup import restore as put_back

    path = path_of(logbook)
    rows = check(file)
    if not yes:
        click.confirm(f"Put {file} ({rows} rows) in the place of {path}?", abort=True)
    aside = put_back(file, path, now())
    click.echo(f"{path} is now {file} ({rows} rows).")
    if aside is not None:
        click.echo(f"What was there before is {aside}.")


@click.command(epilog=examples("fieldvoice merge ~/from-the-laptop/logbook.db"))
@click.argument("file", type=_FILE)
@click.pass_obj
def merge(logbook: str | None, file: Path) -> None:
    """Take in what another logbook has and this one has not; nothing is doubled."""
    from fieldvoice.logbook.merging import merge as take_in

    with logbook_of(logbook, write=True) as opened:
        done = take_in(opened, file)
    click.echo(
        f"{done.rows} rows, {done.recordings} recordings and {done.hives} hives taken in; "
        f"{done.newer} drafts were decided later there."
    )
    if done.conflicts:
        click.echo(f"{done.conflicts} drafts were changed on both sides: yours stay.")
    if done.unfinished:
        click.echo(
            f"Recordings that are still being made there: {done.unfinished}, left out. Merge again "
            "when they have ended; after a power cut, run `fieldvoice listen` there first."
        )
    if done.to_review:
        click.echo(
            f"{done.to_review} rows of recordings that both heard differ: see them in "
            "`fieldvoice review`."
        )


@click.command(epilog=examples("fieldvoice schema > rows.schema.json"))
def schema() -> None:
    """Print the JSON Schema of what `fieldvoice export --json` writes."""
    from fieldvoice.answers.export_schema import export_schema

    click.echo(json.dumps(export_schema(), indent=1))
