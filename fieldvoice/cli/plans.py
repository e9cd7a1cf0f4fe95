"""`fieldvoice plans`: close what was done, accept or drop what is proposed, after asking."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from fieldvoice.cli.ask import ask_of, framed
from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import DAY, logbook_of, now

if TYPE_CHECKING:
    from fieldvoice.answers.plans import Due
    from fieldvoice.logbook.decided import Verb
    from fieldvoice.logbook.opening import Logbook


@click.command(
    epilog=examples(
        "fieldvoice plans --yard orchard         # asks about each",
        "fieldvoice plans --done 3fa2c1",
        "fieldvoice plans --move 3fa2c1 2026-06-01",
    )
)
@framed
@click.option("--done", metavar="ID", multiple=True, help="It was done.")
@click.option("--accept", metavar="ID", multiple=True, help="Take a follow-up as your plan.")
@click.option("--drop", metavar="ID", multiple=True, help="It is not to be done.")
@click.option("--move", type=(str, DAY), metavar="ID DAY", multiple=True, help="Another day.")
@click.pass_obj
def plans(
    logbook: str | None,
    /,
    done: tuple[str, ...],
    accept: tuple[str, ...],
    drop: tuple[str, ...],
    move: tuple[tuple[str, date], ...],
    **frame: Any,
) -> None:
    """Go through what is due and decide on each; the ids are those of `fieldvoice due`.

    Nothing is closed unasked: a row that looks as if it did a plan is shown, you say yes.
    """
    from fieldvoice.answers.plans import open_dues

    with logbook_of(logbook, write=True) as opened:
        ask = ask_of(opened, logbook, **frame)
        found = open_dues(ask).dues
        if done or accept or drop or move:
            verbs: tuple[tuple[Verb, tuple[str, ...]], ...] = (
                ("done", done), ("accepted", accept), ("dropped", drop),
            )  # fmt: skip
            for verb, names in verbs:
                for name in names:
                    _decide(opened, _need(found, name), verb)
            for name, day in move:
                _decide(opened, _need(found, name), "changed", day)
            return
        _ask_each(opened, found, ask.today)


def _need(found: Sequence[Due], name: str) -> Due:
    """The open thing of that id."""
    for one in found:
        if one.id == name:
            return one
    raise click.UsageError(f"Nothing open has the id {name}; see `fieldvoice due`.")


def _ask_each(opened: Logbook, found: Sequence[Due], today: date) -> None:
    verbs: dict[str, Verb] = {"y": "done", "a": "accepted", "d": "dropped"}
    left = len(found)
    for one in found:
        click.echo(f"\n{one.hive or 'yard'}, {one.yard}: {one.what} ({one.when(today)})")
        click.echo("  " + "\n  ".join(part for part in (one.why, one.reason, one.source) if part))
        if one.maybe is not None:
            click.echo(f'  Row of {one.maybe.day}: "{one.maybe.quote}"')
        question = "  Done [y], accept [a], another day [m], drop [d], leave [enter], quit [q]? "
        key = click.prompt(question, default="", show_default=False, prompt_suffix="").strip()
        if key == "q":
            break
        if key == "m":
            _decide(opened, one, "changed", click.prompt("  Day", type=DAY))
        elif key in verbs:
            _decide(opened, one, verbs[key])
        else:
            continue
        left -= 1
    click.echo(f"{left} left open." if found else "Nothing is open.")


def _decide(opened: Logbook, one: Due, verb: Verb, day: date | None = None) -> None:
    from fieldvoice.logbook.decided import Decided, decide

    row = one.maybe.uuid if verb == "done" and one.maybe else None
    decide(opened, one.key, Decided(verb, day, day, row), now())
    words = f"moved to {day}" if day else verb
    click.echo(f"{one.hive or 'yard'}: {one.what}: {words}.")
