"""`fieldvoice hive`, `log` and `export`: what the log holds."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import DAY, logbook_of
from fieldvoice.cli.paths import Named
from fieldvoice.types import KINDS, STATUSES, LogRow

if TYPE_CHECKING:
    from fieldvoice.logbook.entries import Filter
    from fieldvoice.logbook.opening import Logbook


@click.command(
    epilog=examples(
        "fieldvoice hive 7",
        "fieldvoice hive 'blue one'              # by another name it goes by",
    )
)
@click.argument("label")
@click.option("--yard", help="The yard, if two yards have a hive of that label.")
@click.option("--since", type=DAY, help="From this day on, as 2026-05-03.")
@click.option("--until", type=DAY, help="Up to this day, which counts.")
@click.option("--json", "as_json", is_flag=True, help="Print the rows as JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="Print the rows as CSV.")
@click.pass_obj
def hive(
    logbook: str | None,
    label: str,
    yard: str | None,
    since: date | None,
    until: date | None,
    as_json: bool,
    as_csv: bool,
) -> None:
    """The history of one hive, newest visit first.

    With it come rows about all hives of its yard, and rows of other hives that name it.
    """
    from fieldvoice.logbook.entries import Filter, log_rows
    from fieldvoice.logbook.register import need_hive

    with logbook_of(logbook) as opened:
        found = need_hive(opened, label, yard, retired=True)
        rows = log_rows(opened, Filter(since, until, hive=found))
    if as_csv:
        from fieldvoice.answers.cautions import cautions_of
        from fieldvoice.answers.history import rows_to_csv

        for caution in cautions_of(rows):
            click.echo(f"! {caution}\n", err=True)
        click.echo(rows_to_csv(rows), nl=False)
        return
    if not as_json:
        names = f" ({', '.join(found.aliases)})" if found.aliases else ""
        gone = ", retired" if found.retired else ""
        click.echo(f"Hive {found.label}{names}, {found.yard}{gone}")
    _show(rows, as_json=as_json, own=found.label)


@click.command(
    epilog=examples(
        "fieldvoice log --since 2026-04-01 --kind feed --status planned",
        "fieldvoice log --search 'queen cells'",
    )
)
@click.option("--since", type=DAY, help="From this day on, as 2026-05-03.")
@click.option("--until", type=DAY, help="Up to this day, which counts.")
@click.option("--kind", type=click.Choice(KINDS), metavar="KIND",
              help=f"Only this kind of row: {', '.join(KINDS)}.")  # fmt: skip
@click.option("--status", type=click.Choice(STATUSES), metavar="STATUS",
              help=f"Only rows of this status: {', '.join(STATUSES)}.")  # fmt: skip
@click.option("--hive", "label", help="Only this hive.")
@click.option("--yard", help="Only this yard.")
@click.option("--search", "words", help="Only rows with these words in the quote or the item.")
@click.option("--json", "as_json", is_flag=True, help="Print the rows as JSON.")
@click.pass_obj
def log(
    logbook: str | None,
    since: date | None,
    until: date | None,
    kind: str | None,
    status: str | None,
    label: str | None,
    yard: str | None,
    words: str | None,
    as_json: bool,
) -> None:
    """The rows of the log, newest visit first."""
    from fieldvoice.logbook.entries import Filter, log_rows

    if since and until and since > until:
        raise click.UsageError(f"--since {since} is after --until {until}.")
    with logbook_of(logbook) as opened:
        which = Filter(since, until, kind, status, words=words)
        rows = log_rows(opened, _placed(opened, which, label, yard))
    _show(rows, as_json=as_json)


@click.command(
    epilog=examples(
        "fieldvoice export --csv log.csv",
        "fieldvoice export --json log.json",
    )
)
@click.option("--csv", "csv_file", type=Named(dir_okay=False),
              help="Write a CSV file, to open with a spreadsheet.")  # fmt: skip
@click.option("--json", "json_file", type=Named(dir_okay=False),
              help="Write a JSON file.")  # fmt: skip
@click.pass_obj
def export(logbook: str | None, csv_file: Path | None, json_file: Path | None) -> None:
    """Write all rows of the log to a CSV file, a JSON file, or both."""
    from fieldvoice.answers.history import rows_to_csv, rows_to_json
    from fieldvoice.answers.writing import write_whole
    from fieldvoice.logbook.entries import log_rows

    if csv_file is None and json_file is None:
        raise click.UsageError("Say where to: --csv FILE or --json FILE.")
    with logbook_of(logbook) as opened:
        rows = log_rows(opened)
    for path, to_text in ((csv_file, rows_to_csv), (json_file, rows_to_json)):
        if path is not None:
            write_whole(path, to_text(rows))
            click.echo(f"{len(rows)} {'row' if len(rows) == 1 else 'rows'} written to {path}.")


def _placed(opened: Logbook, which: Filter, label: str | None, yard: str | None) -> Filter:
    """The filter with its hive and yard, if they are in the register."""
    from dataclasses import replace

    from fieldvoice.logbook.register import need_hive, need_yard

    if yard is not None:
        which = replace(which, yard=need_yard(opened, yard).name)
    if label is not None:
        which = replace(which, hive=need_hive(opened, label, yard, retired=True))
    return which


def _show(rows: Sequence[LogRow], *, as_json: bool, own: str | None = None) -> None:
    """Print rows as JSON, or visit by visit; the hive is left out where all rows are its own."""
    from fieldvoice.answers.cautions import cautions_of
    from fieldvoice.answers.history import rows_to_json, visits
    from fieldvoice.plain import entry_line, hive_name

    for caution in cautions_of(rows):
        click.echo(f"! {caution}\n", err=as_json)
    if as_json:
        click.echo(rows_to_json(rows), nl=False)
        return
    if not rows:
        click.echo("No rows; a draft counts once it is confirmed in `fieldvoice review`.")
    for visit in visits(rows):
        click.echo(f"\n{visit.at:%a %Y-%m-%d %H:%M}, {visit.yard}")
        for row in visit.rows:
            named = "" if row.entry.hive == own and own else f"{hive_name(row.entry.hive)}: "
            click.echo(f"  {named}{entry_line(row.entry)}")
            if row.entry.quote:
                click.echo(f'      "{row.entry.quote}"')
