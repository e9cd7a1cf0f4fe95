"""The questions: one command each, all with the same options and the same ways to show."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from fieldvoice.answers.questions import QUESTIONS
from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import DAY, logbook_of, path_of
from fieldvoice.settings import load_settings
from fieldvoice.types import KINDS, STATUSES

if TYPE_CHECKING:
    from fieldvoice.answers.answer import Answer
    from fieldvoice.answers.ask import Ask
    from fieldvoice.logbook.opening import Logbook


def framed(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the options that every question has."""
    for option in (
        click.argument("label", metavar="[HIVE]", required=False),
        click.option("--yard", help="Only this yard."),
        click.option("--since", type=DAY, help="From this day on, as 2026-05-03."),
        click.option("--until", type=DAY, help="Up to this day, which counts."),
        click.option("--on", "today", type=DAY, help="As of this day (default: today)."),
    )[::-1]:
        command = option(command)
    return command


def shown_as(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command --json and --csv."""
    command = click.option("--csv", "as_csv", is_flag=True, help="Print the table as CSV.")(command)
    return click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")(command)


def ask_of(
    opened: Logbook,
    logbook: str | None,
    *,
    label: str | None = None,
    yard: str | None = None,
    since: date | None = None,
    until: date | None = None,
    today: date | None = None,
) -> Ask:
    """The frame of a question from its options."""
    from fieldvoice.answers.ask import Ask
    from fieldvoice.cli.opened import now
    from fieldvoice.logbook.register import need_hive, need_yard

    if since and until and since > until:
        raise click.UsageError(f"--since {since} is after --until {until}.")
    hive = need_hive(opened, label, yard, retired=True) if label else None
    place = need_yard(opened, yard).name if yard and hive is None else None
    return Ask(
        opened, today or now().date(), load_settings(path_of(logbook)), since, until, place, hive
    )


def show(answer: Answer, *, as_json: bool, as_csv: bool) -> None:
    """Print an answer; cautions come first in every form that can hold them."""
    from fieldvoice.answers.answer import to_csv, to_json, to_text
    from fieldvoice.answers.cautions import with_cautions

    answer = with_cautions(answer)
    if as_csv:
        for caution in answer.cautions:
            click.echo(f"! {caution}", err=True)
        click.echo(to_csv(answer), nl=False)
    elif as_json:
        click.echo(to_json(answer), nl=False)
    else:
        click.echo(to_text(answer), nl=False)


def question(name: str) -> click.Command:
    """The command that asks the question of that name."""
    asked = QUESTIONS[name]

    @click.pass_obj
    def run(logbook: str | None, /, as_json: bool, as_csv: bool, **frame: Any) -> None:
        from fieldvoice.answers.questions import answer

        with logbook_of(logbook) as opened:
            found = answer(name, ask_of(opened, logbook, **frame))
        show(found, as_json=as_json, as_csv=as_csv)

    command = framed(shown_as(run))
    return click.command(name, help=asked.about, epilog=examples(asked.example))(command)


visits = question("visits")
due = question("due")
load = question("load")
shopping = question("shopping")
feed = question("feed")
mites = question("mites")
treatments = question("treatments")
supers = question("supers")
effect = question("effect")
queens = question("queens")
splits = question("splits")
stores = question("stores")
strength = question("strength")
winter = question("winter")
equipment = question("equipment")
harvest = question("harvest")
traits = question("traits")
colonies = question("colonies")
losses = question("losses")
lineage = question("lineage")


@click.command(
    epilog=examples(
        "fieldvoice search --hive 7 --item syrup --ratio 2:1 --most 1",
        "fieldvoice search queen cells --since 2026-05-01",
    )
)
@click.argument("words", nargs=-1)
@click.option("--hive", "label", help="Only this hive.")
@click.option("--yard", help="Only this yard.")
@click.option("--since", type=DAY, help="From this day on, as 2026-05-03.")
@click.option("--until", type=DAY, help="Up to this day, which counts.")
@click.option("--kind", type=click.Choice(KINDS), metavar="KIND",
              help=f"Only this kind of row: {', '.join(KINDS)}.")  # fmt: skip
@click.option("--status", type=click.Choice(STATUSES), metavar="STATUS",
              help=f"Only this status: {', '.join(STATUSES)}.")  # fmt: skip
@click.option("--item", default="", help="Only this thing, as the log names it.")
@click.option("--ratio", help="Only syrup of this strength, as 2:1.")
@click.option("--most", type=click.IntRange(1), default=50, show_default=True,
              help="So many rows at most.")  # fmt: skip
@shown_as
@click.pass_obj
def search(
    logbook: str | None,
    words: tuple[str, ...],
    label: str | None,
    yard: str | None,
    since: date | None,
    until: date | None,
    kind: str | None,
    status: str | None,
    item: str,
    ratio: str | None,
    most: int,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Find rows by words, hive, time, kind, thing and number; the newest first.

    Words may be in any order; all of them must be there.
    """
    from fieldvoice.answers.search import Wanted
    from fieldvoice.answers.search import search as find

    wanted = Wanted(" ".join(words), kind or "", item, status or "", read_ratio(ratio), most)
    with logbook_of(logbook) as opened:
        ask = ask_of(opened, logbook, label=label, yard=yard, since=since, until=until)
        answer = find(ask, wanted)
    show(answer, as_json=as_json, as_csv=as_csv)


def read_ratio(text: str | None) -> float | None:
    """ "2:1" or "1.5" as sugar over water."""
    if text is None:
        return None
    first, _, second = text.partition(":")
    try:
        ratio = float(first) / float(second or 1)
    except (ValueError, ZeroDivisionError):
        ratio = 0.0
    if not 0 < ratio < 100:
        raise click.UsageError(f"{text!r} is no ratio; write it as 2:1, sugar first.")
    return ratio
