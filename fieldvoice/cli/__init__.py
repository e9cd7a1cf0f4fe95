"""The command line: each command parses options, calls one function, prints.

Commands are found by name in COMMANDS and imported only when one is run, so that
`fieldvoice --help` stays quick.
"""

from __future__ import annotations

import importlib
import sys
from typing import Any

import click

from fieldvoice import __version__
from fieldvoice.cli.examples import examples
from fieldvoice.errors import FieldvoiceError

COMMANDS: dict[str, tuple[str, str]] = {
    # name: (module:function, one line of help), in the order of the work
    "add": ("fieldvoice.cli.add:add", "Hear recordings and put drafts into the logbook."),
    "listen": ("fieldvoice.cli.listen:listen", "Record by the microphone, and keep it."),
    "watch": ("fieldvoice.cli.watch:watch", "Take in what is synced into a folder."),
    "drafts": ("fieldvoice.cli.review:drafts", "List the drafts that wait for review."),
    "review": ("fieldvoice.cli.review:review", "Confirm, edit or reject drafts."),
    "hive": ("fieldvoice.cli.log:hive", "The history of one hive, newest first."),
    "log": ("fieldvoice.cli.log:log", "The rows of the log, filtered."),
    "search": ("fieldvoice.cli.ask:search", "Find rows by words, hive, time, number."),
    "due": ("fieldvoice.cli.ask:due", "What to do now: plans, follow-ups, what is overdue."),
    "plans": ("fieldvoice.cli.plans:plans", "Close, accept, change or drop what is due."),
    "load": ("fieldvoice.cli.ask:load", "What to take along to a yard."),
    "shopping": ("fieldvoice.cli.ask:shopping", "What to buy or make."),
    "calendar": ("fieldvoice.cli.paper:calendar", "What is due, for a phone's calendar."),
    "sheet": ("fieldvoice.cli.paper:sheet", "A sheet to print for each yard."),
    "visits": ("fieldvoice.cli.ask:visits", "When each hive was last opened; overdue ones."),
    "feed": ("fieldvoice.cli.ask:feed", "What was fed, how much, how strong."),
    "mites": ("fieldvoice.cli.ask:mites", "Mite counts against the threshold; one hive's trend."),
    "treatments": ("fieldvoice.cli.ask:treatments", "What is in, and when it is due out."),
    "supers": ("fieldvoice.cli.ask:supers", "Does anything stand against supers or a harvest?"),
    "effect": ("fieldvoice.cli.ask:effect", "Mites before and after treatments."),
    "queens": ("fieldvoice.cli.ask:queens", "Eggs and queens last seen, marks, age."),
    "splits": ("fieldvoice.cli.ask:splits", "Splits, cells and new queens: when to look."),
    "stores": ("fieldvoice.cli.ask:stores", "Honey in the hives; feed and sugar still needed."),
    "strength": ("fieldvoice.cli.ask:strength", "Frames of bees; strong, weak, out of room."),
    "winter": ("fieldvoice.cli.ask:winter", "Ready for winter, point by point."),
    "equipment": ("fieldvoice.cli.ask:equipment", "What is on a hive."),
    "harvest": ("fieldvoice.cli.ask:harvest", "Honey taken, weight and moisture."),
    "traits": ("fieldvoice.cli.ask:traits", "Mean, swarmy, spotty: how often it was said."),
    "colonies": ("fieldvoice.cli.ask:colonies", "Colonies in each yard, and moves."),
    "losses": ("fieldvoice.cli.ask:losses", "Colonies that died over winter."),
    "lineage": ("fieldvoice.cli.ask:lineage", "Where a hive came from."),
    "picture": (
        "fieldvoice.cli.picture:picture",
        "Draw mites, strength, feed, weight or the year.",
    ),
    "syrup": ("fieldvoice.cli.syrup:syrup", "Mix syrup: sugar, water, what it makes."),
    "days": ("fieldvoice.cli.reckon:days", "Calendars of brood and queens; a mark's years."),
    "honey": ("fieldvoice.cli.reckon:honey", "What honey weighs; how its moisture stands."),
    "medicine": ("fieldvoice.cli.medicine:medicine", "The medicine record, to keep and print."),
    "label": ("fieldvoice.cli.medicine:label", "Type in what stands on a medicine's label."),
    "yard": ("fieldvoice.cli.register:yard", "List, add or rename yards."),
    "hives": ("fieldvoice.cli.register:hives", "List, add, name or retire hives."),
    "export": ("fieldvoice.cli.log:export", "Write the log to a CSV or JSON file."),
    "import": ("fieldvoice.cli.data:import_", "Take rows from a CSV or JSON file."),
    "merge": ("fieldvoice.cli.data:merge", "Take in another logbook; nothing is doubled."),
    "backup": ("fieldvoice.cli.data:backup", "Copy the logbook and check that the copy opens."),
    "forget": ("fieldvoice.cli.forget:forget", "Delete a recording's sound; its rows stay."),
    "restore": ("fieldvoice.cli.data:restore", "Go back to a backup."),
    "schema": ("fieldvoice.cli.data:schema", "The JSON Schema of the export."),
    "transcribe": ("fieldvoice.cli.transcribe:transcribe", "Print what was said in a recording."),
    "extract": ("fieldvoice.cli.extract:extract", "Print the drafts that a text gives."),
    "models": ("fieldvoice.cli.models:models", "Speech models: what is here, what could be."),
    "demo": ("fieldvoice.cli.demo:demo", "The whole way, on the demo's recordings."),
}

SECTIONS = {  # headings of the help, by the command that each begins with
    "add": "From a recording to the log",
    "hive": "What the log holds",
    "due": "What to do",
    "visits": "Questions to the log",
    "syrup": "Reckoning",
    "medicine": "Medicines",
    "yard": "Yards and hives",
    "export": "Your data",
    "transcribe": "Speech, and trying it out",
}


class Rooms(click.Group):
    """A group whose commands are imported when they are run."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of COMMANDS."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return the command, or None if there is none of that name."""
        if cmd_name not in COMMANDS:
            return None
        module, _, function = COMMANDS[cmd_name][0].partition(":")
        command: Any = getattr(importlib.import_module(module), function)
        return command if isinstance(command, click.Command) else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As click does it; a command that is none is told with those it may have been."""
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            from difflib import get_close_matches

            alike = get_close_matches(args[0], COMMANDS, n=3)
            maybe = " or ".join(f"`fieldvoice {name}`" for name in alike)
            hint = f"Did you mean {maybe}?" if alike else "`fieldvoice --help` lists them all."
            raise click.UsageError(f"There is no command {args[0]!r}. {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands, section by section, without importing any."""
        sections: dict[str, list[tuple[str, str]]] = {}
        for name, (_, about) in COMMANDS.items():
            if name in SECTIONS:
                rows = sections.setdefault(SECTIONS[name], [])
            rows.append((name, about))
        widest = max(map(len, COMMANDS))
        for heading, rows in sections.items():
            with formatter.section(heading):
                formatter.write_dl([(name.ljust(widest), about) for name, about in rows])


@click.command(
    cls=Rooms,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog=examples(
        "fieldvoice demo                         # try it; yours is not touched",
        "fieldvoice hives add 3 5 7 8            # tell it your hives once",
        "fieldvoice add ~/recordings/2026-05-09  # hear the day's recordings",
        "fieldvoice review                       # confirm what they say",
        "fieldvoice hive 7                       # ask",
        "fieldvoice add --help                   # all of one command",
    ),
)
@click.version_option(__version__, prog_name="fieldvoice")
@click.option(
    "--logbook",
    type=click.Path(dir_okay=False),
    help="The logbook file (default: FIELDVOICE_LOGBOOK, else the user's data folder).",
)
@click.pass_context
def cli(ctx: click.Context, logbook: str | None) -> None:
    """Talk while you work; fieldvoice writes the log.

    Recordings become words, words become drafts, and only what you confirm is kept.
    Nothing leaves this computer.
    """
    ctx.obj = logbook


def main() -> None:
    """Run the command line; every failure a keeper can meet is one sentence and exit code 2."""
    try:
        code = cli.main(standalone_mode=False)
    except click.Abort:
        click.echo("Stopped. Nothing was lost; run the same command to go on.", err=True)
        code = 130
    except click.ClickException as error:
        error.show()
        code = 2
    except FieldvoiceError as error:
        click.echo(f"fieldvoice: {error}", err=True)
        code = 2
    except BrokenPipeError:
        # the reader of our output has gone (`fieldvoice log | head`); nobody is left to tell
        sys.stdout = None
        code = 0
    except OSError as error:  # of the machine, not of ours: a full disk, a folder without rights
        click.echo(f"fieldvoice: {_of_the_machine(error)}", err=True)
        code = 2
    except Exception as error:  # noqa: BLE001 - the last door: no traceback reaches a keeper
        click.echo(f"fieldvoice: {_kept(error)}", err=True)
        code = 2
    sys.exit(code if isinstance(code, int) else 0)


def _of_the_machine(error: OSError) -> str:
    """What the system refused, in a sentence; a fault without a file's name is kept whole."""
    if error.filename is None or error.strerror is None:
        return _kept(error)
    return (
        f"{error.filename} cannot be used ({error.strerror}). Nothing was lost; mend that, "
        "or name another, and run the same command again."
    )


def _kept(error: Exception) -> str:
    """Write an unforeseen failure to a file and say so in a sentence."""
    import traceback

    from platformdirs import user_log_path

    report = "".join(traceback.format_exception(error))
    try:
        folder = user_log_path("fieldvoice", appauthor=False, ensure_exists=True)
        (folder / "fault.txt").write_text(report, encoding="utf-8")
    except OSError:
        return (
            f"An unforeseen fault ({type(error).__name__}: {error}). Nothing was lost; try again."
        )
    return (
        f"An unforeseen fault ({type(error).__name__}). Nothing was lost; try again. "
        f"If it comes back, show {folder / 'fault.txt'} to whoever looks after fieldvoice."
    )
