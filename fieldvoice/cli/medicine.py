"""`fieldvoice medicine` and `fieldvoice label`: the records that must be kept."""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from datetime import date
from typing import Any

import click

from fieldvoice.cli.ask import ask_of, framed, show, shown_as
from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import DAY, logbook_of, now


@click.command(
    epilog=examples(
        "fieldvoice medicine --since 2026-01-01 --csv",
        "fieldvoice medicine --bought 'Strips' --batch L123 \\\n"
        "      --from 'The shop, High Street' --quantity '20 strips'",
    )
)
@framed
@click.option("--note", nargs=3, metavar="ID FIELD TEXT",
              help="Write down for a treatment: product, batch, dose, supplier or reason.")  # fmt: skip
@click.option("--bought", metavar="PRODUCT", help="Write down that PRODUCT was bought.")
@click.option("--batch", default="", help="With --bought: its batch number.")
@click.option("--quantity", default="", help="With --bought: how much.")
@click.option("--from", "supplier", default="", help="With --bought: name and address.")
@click.option("--day", type=DAY, help="With --bought: the day (default: today).")
@shown_as
@click.pass_obj
def medicine(
    logbook: str | None,
    /,
    note: tuple[str, str, str] | None,
    bought: str | None,
    batch: str,
    quantity: str,
    supplier: str,
    day: date | None,
    as_json: bool,
    as_csv: bool,
    **frame: Any,
) -> None:
    """The medicine record, or something to write down in it.

    Product as you typed it, batch, dates, dose, hives, withdrawal, supplier; what is
    missing is named. Nothing is made up and no dose is recommended.
    """
    from fieldvoice.answers.medicine import medicine as record
    from fieldvoice.logbook.medicines import Purchase, add_note, add_purchase

    with logbook_of(logbook, write=bool(note or bought)) as opened:
        if note:
            whole = add_note(opened, *note, now())
            click.echo(f"Written down for the treatment {whole[:8]}: {note[1]} {note[2]}.")
        if bought:
            add_purchase(
                opened, Purchase(bought, day or now().date(), batch, quantity, supplier), now()
            )
            click.echo(f"Written down: {bought} bought.")
        if note or bought:
            return
        answer = record(ask_of(opened, logbook, **frame))
    show(answer, as_json=as_json, as_csv=as_csv)


@click.group(
    invoke_without_command=True,
    epilog=examples(
        "fieldvoice label                        # what you typed in",
        "fieldvoice label add 'Strips' --item 'amitraz strip' --days 42-56 \\\n"
        "      --supers off --before-supers 14 --withdrawal 0 \\\n"
        "      --source 'leaflet in the packet, 2024'",
    ),
)
@click.option("--json", "as_json", is_flag=True, help="Print the records as JSON.")
@click.pass_context
def label(ctx: click.Context, as_json: bool) -> None:
    """The label records you typed in, or add one.

    Days, temperatures and waiting times of your treatments come from these and from nothing
    else. The label in your hand always decides.
    """
    if ctx.invoked_subcommand:
        return
    from fieldvoice.logbook.medicines import labels

    with logbook_of(ctx.obj) as opened:
        found = labels(opened)
    if as_json:
        click.echo(json.dumps([asdict(one) for one in found], ensure_ascii=False, indent=1))
        return
    if not found:
        click.echo("No label records yet; add one with `fieldvoice label add`.")
    for one in found:
        known = [f"{name} {value}" for name, value in asdict(one).items()
                 if value not in (None, "") and name not in ("product",)]  # fmt: skip
        click.echo(f"{one.product}: {', '.join(known)}".replace("_", " "))


@label.command(
    "add",
    epilog=examples(
        "fieldvoice label add 'Strips' --item 'amitraz strip' --days 42-56 \\\n"
        "      --supers off --source 'leaflet, 2024'",
    ),
)
@click.argument("product")
@click.option("--item", required=True, help="The word you use for it, as in the log.")
@click.option("--source", required=True, help="Where you read it: leaflet, packet, its date.")
@click.option("--ingredient", default="", help="Active ingredient.")
@click.option("--form", default="", help="Strip, vapour, trickle, pad ...")
@click.option("--days", help="Days it stays in, as 42-56 or 7; 0 if nothing stays in.")
@click.option("--lowest", type=float, help="Lowest temperature it names, in Celsius.")
@click.option("--highest", type=float, help="Highest temperature it names, in Celsius.")
@click.option("--supers", type=click.Choice(["off", "allowed", "not said"]), default="not said",
              show_default=True, help="Honey supers during treatment.")  # fmt: skip
@click.option("--before-supers", type=click.IntRange(0), help="Days to wait before supers.")
@click.option("--withdrawal", type=click.IntRange(0), help="Withdrawal period in days.")
@click.option("--dated", default="", help="Date or edition of the label.")
@click.pass_obj
def add_label(
    logbook: str | None,
    product: str,
    item: str,
    source: str,
    ingredient: str,
    form: str,
    days: str | None,
    lowest: float | None,
    highest: float | None,
    supers: str,
    before_supers: int | None,
    withdrawal: int | None,
    dated: str,
) -> None:
    """Type in what stands on the label of PRODUCT.

    An older record of it is replaced.
    """
    from fieldvoice.logbook.medicines import LabelRecord, add_label

    first = last = None
    if days is not None:
        found = re.fullmatch(r"(\d+)(?:\s*-\s*(\d+))?", days.strip())
        if found is None:
            raise click.UsageError(f"{days!r} are no days; write them as 42-56 or 7.")
        first, last = int(found[1]), int(found[2] or found[1])
    record = LabelRecord(
        product, item, source, ingredient, form, first, last, lowest, highest, supers,
        before_supers, withdrawal, dated,
    )  # fmt: skip
    with logbook_of(logbook, create=True) as opened:
        add_label(opened, record, now())
    click.echo(f"Label record of {product} kept. The label in your hand decides.")
