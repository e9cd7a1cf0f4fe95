"""The questions: one command each, all with the same options and the same ways to show."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

import click

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


def question(name: str, where: str, about: str, example: str) -> click.Command:
    """The command that asks `where` ("module:function" of fieldvoice.answers)."""

    @click.pass_obj
    def run(logbook: str | None, /, as_json: bool, as_csv: bool, **frame: Any) -> None:
        module, _, function = where.partition(":")
        answers = importlib.import_module(f"fieldvoice.answers.{module}")
        with logbook_of(logbook) as opened:
            answer = getattr(answers, function)(ask_of(opened, logbook, **frame))
        show(answer, as_json=as_json, as_csv=as_csv)

    return click.command(name, help=about, epilog=f"Example: {example}")(framed(shown_as(run)))


visits = question(
    "visits", "visits:visits",
    "When each hive was last opened, what was found, and which are overdue.",
    "fieldvoice visits --yard orchard",
)  # fmt: skip
due = question(
    "due", "due:due",
    "What to do now: plans, follow-ups, treatments due out, hives overdue.",
    "fieldvoice due --yard orchard",
)  # fmt: skip
load = question(
    "load", "due:load", "What to take along for the plans of a yard.",
    "fieldvoice load --yard orchard",
)  # fmt: skip
shopping = question(
    "shopping", "due:shopping", "What to buy or make, and the sugar for planned feed.",
    "fieldvoice shopping",
)  # fmt: skip
feed = question(
    "feed", "feed:feed", "What was fed, how much, how strong, and how much sugar that was.",
    "fieldvoice feed 7 --since 2026-08-01",
)  # fmt: skip
mites = question(
    "mites", "mites:mites",
    "One hive: each count with its interval. All: which are over the threshold or not tested.",
    "fieldvoice mites 7",
)  # fmt: skip
treatments = question(
    "treatments", "treatments:treatments",
    "What was put in, when it is due out by the label record, and what is still in.",
    "fieldvoice treatments --yard ridge",
)  # fmt: skip
supers = question(
    "supers", "treatments:supers",
    "Whether something in the log stands against supers on, or honey off.",
    "fieldvoice supers --on 2026-05-20",
)  # fmt: skip
effect = question(
    "effect", "treatments:effect", "Mites before and after each treatment.",
    "fieldvoice effect --since 2026-07-01",
)  # fmt: skip
queens = question(
    "queens", "queens:queens",
    "Eggs and queen last seen, her mark, the year it suggests, where she came from.",
    "fieldvoice queens --yard orchard",
)  # fmt: skip
splits = question(
    "splits", "queens:splits", "Splits, cells and new queens: when to look, and what is late.",
    "fieldvoice splits",
)  # fmt: skip
stores = question(
    "stores", "stores:stores",
    "Honey as last told, what is missing for winter, feed and sugar for it.",
    "fieldvoice stores --yard orchard",
)  # fmt: skip
strength = question(
    "strength", "strength:strength", "Frames, seams and words of bees, and who asks for room.",
    "fieldvoice strength",
)  # fmt: skip
winter = question(
    "winter", "winter:winter", "Ready for winter: each point yes, no or unknown.",
    "fieldvoice winter --yard ridge",
)  # fmt: skip
equipment = question(
    "equipment", "equipment:equipment", "What is on a hive, from what was put on and taken off.",
    "fieldvoice equipment 7",
)  # fmt: skip
harvest = question(
    "harvest", "harvest:harvest", "Honey taken, its weight and moisture.",
    "fieldvoice harvest --since 2026-06-01",
)  # fmt: skip
traits = question(
    "traits", "traits:traits", "Which hives are mean, swarmy or spotty, as it was said.",
    "fieldvoice traits",
)  # fmt: skip
colonies = question(
    "colonies", "colonies:colonies", "Colonies in each yard on a day, and moves.",
    "fieldvoice colonies --on 2026-10-01",
)  # fmt: skip
losses = question(
    "losses", "colonies:losses", "Colonies that died since October, with the last word on each.",
    "fieldvoice losses",
)  # fmt: skip
lineage = question(
    "lineage", "colonies:lineage", "Where a hive came from and what became of it.",
    "fieldvoice lineage 7",
)  # fmt: skip


@click.command(
    epilog="Example: fieldvoice search --hive 7 --item syrup --ratio 2:1 --most 1, "
    "fieldvoice search queen cells --since 2026-05-01"
)
@click.argument("words", nargs=-1)
@click.option("--hive", "label", help="Only this hive.")
@click.option("--yard", help="Only this yard.")
@click.option("--since", type=DAY, help="From this day on, as 2026-05-03.")
@click.option("--until", type=DAY, help="Up to this day, which counts.")
@click.option("--kind", type=click.Choice(KINDS), help="Only this kind of row.")
@click.option("--status", type=click.Choice(STATUSES), help="Only this status.")
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
