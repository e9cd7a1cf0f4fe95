"""`fieldvoice extract`: the drafts that a text or a transcript gives; nothing is stored."""

from __future__ import annotations

import json
from pathlib import Path

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.paths import Named


@click.command(
    epilog=examples(
        "fieldvoice extract notes.txt --recorded-at 2026-05-03T09:30 --json",
        "fieldvoice extract notes.txt --recorded-at 2026-05-03T09:30 --explain",
    )
)
@click.argument("file", type=Named())
@click.option(
    "--recorded-at", metavar="WHEN", required=True, help="When it was said: 2026-05-03T09:30."
)
@click.option(
    "--register",
    type=Named(),
    help='A JSON list of hive labels, as ["7", "A3", "nuc 2"] (default: the logbook\'s own).',
)
@click.option("--json", "as_json", is_flag=True, help="Print the drafts as JSON.")
@click.option("--explain", is_flag=True, help="Say for each field which words and score gave it.")
@click.pass_context
def extract(
    ctx: click.Context,
    file: Path,
    recorded_at: str,
    register: Path | None,
    as_json: bool,
    explain: bool,
) -> None:
    """Print the drafts that FILE gives: plain text, or a transcript of `fieldvoice transcribe`.

    The logbook is read for the register, never written.
    """
    from fieldvoice.extraction.extract import extract as run
    from fieldvoice.logbook.register import read_register_of
    from fieldvoice.settings import load_settings, logbook_path
    from fieldvoice.wire import entry_to_json, read_register, read_text_or_transcript, read_time

    logbook = logbook_path(Path(ctx.obj) if ctx.obj else None)
    heard = read_text_or_transcript(file)
    at = read_time(recorded_at)
    labels = read_register(register) if register else read_register_of(logbook)
    rows = run(heard, at, labels, load_settings(logbook))
    if as_json:
        click.echo(json.dumps([entry_to_json(row, explain=explain) for row in rows], indent=1))
        return
    for row in rows:
        _show(entry_to_json(row, explain=explain))


def _show(row: dict[str, object]) -> None:
    values = "; ".join(_value(v) for v in row["values"])  # type: ignore[attr-defined]
    when = row.get("when")
    days = f" {when['from']}..{when['to']}" if isinstance(when, dict) else ""
    flags = f"  [{', '.join(row['flags'])}]" if row["flags"] else ""  # type: ignore[arg-type]
    what = f"{row['kind']} {row['action']} {row['item']} {row['status']}"
    click.echo(f"{row['hive'] or '-':>6}  {what}{'  ' + values if values else ''}{days}{flags}")
    click.echo(f'        "{row["quote"]}"')
    for why in row.get("because", []):  # type: ignore[attr-defined]
        score = "" if why["score"] is None else f" ({why['score']:.2f})"
        click.echo(f'        {why["field"]}: {why["rule"]}, from "{why["words"]}"{score}')


def _value(value: dict[str, object]) -> str:
    lo, hi = value["lo"], value["hi"]
    number = f"{lo:g}" if lo == hi else f"{lo:g}-{hi:g}"
    about = "about " if value["approx"] else ""
    return f"{value['role']} {about}{number} {value['unit'] or ''}".rstrip()
