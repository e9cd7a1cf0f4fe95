"""`fieldvoice yard` and `fieldvoice hives`: the register."""

from __future__ import annotations

import json

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import logbook_of, now, path_of
from fieldvoice.settings import load_settings


@click.group(
    invoke_without_command=True,
    epilog=examples(
        "fieldvoice yard                         # all of them",
        "fieldvoice yard add mill",
        "fieldvoice yard rename mill 'old mill'",
    ),
)
@click.option("--json", "as_json", is_flag=True, help="Print the yards as JSON.")
@click.pass_context
def yard(ctx: click.Context, as_json: bool) -> None:
    """List the yards, or add or rename one."""
    if ctx.invoked_subcommand:
        return
    from fieldvoice.logbook.register import yards

    with logbook_of(ctx.obj) as opened:
        found = yards(opened)
    if as_json:
        click.echo(json.dumps([{"name": y.name, "hives": y.hives} for y in found], indent=1))
        return
    if not found:
        click.echo("No yards yet; add one with `fieldvoice yard add NAME`.")
    for one in found:
        click.echo(f"{one.name}: {one.hives} {'hive' if one.hives == 1 else 'hives'}")


@yard.command("add", epilog=examples("fieldvoice yard add mill"))
@click.argument("name")
@click.pass_obj
def add_yard(logbook: str | None, name: str) -> None:
    """Add the yard NAME."""
    from fieldvoice.logbook.register_changes import add_yard as add

    with logbook_of(logbook, create=True) as opened:
        add(opened, name, now())
    click.echo(f"Yard {name} is in the register.")


@yard.command("rename", epilog=examples("fieldvoice yard rename mill 'old mill'"))
@click.argument("old")
@click.argument("new")
@click.pass_obj
def rename_yard(logbook: str | None, old: str, new: str) -> None:
    """Give the yard OLD the name NEW; its rows follow."""
    from fieldvoice.logbook.register_changes import rename_yard as rename

    with logbook_of(logbook, write=True) as opened:
        rename(opened, old, new)
    click.echo(f"Yard {old} is now {new}.")


@click.group(
    invoke_without_command=True,
    epilog=examples(
        "fieldvoice hives                        # all of them",
        "fieldvoice hives add 7 8 'nuc 2'",
        "fieldvoice hives alias 7 'the blue one'",
    ),
)
@click.option("--yard", "yard_name", help="Only the hives of this yard.")
@click.option("--all", "with_retired", is_flag=True, help="Retired hives too.")
@click.option("--json", "as_json", is_flag=True, help="Print the hives as JSON.")
@click.pass_context
def hives(ctx: click.Context, yard_name: str | None, with_retired: bool, as_json: bool) -> None:
    """List the hives, or add, rename, nickname or retire one."""
    if ctx.invoked_subcommand:
        return
    from fieldvoice.logbook.register import hives as read_hives
    from fieldvoice.logbook.register import need_yard

    with logbook_of(ctx.obj) as opened:
        name = need_yard(opened, yard_name).name if yard_name else None
        found = read_hives(opened, yard=name, retired=with_retired)
    if as_json:
        raw = [
            {"label": h.label, "yard": h.yard, "aliases": list(h.aliases), "retired": h.retired}
            for h in found
        ]
        click.echo(json.dumps(raw, ensure_ascii=False, indent=1))
        return
    if not found:
        click.echo("No hives yet; add them with `fieldvoice hives add 1 2 3`.")
    for hive in found:
        names = f" ({', '.join(hive.aliases)})" if hive.aliases else ""
        click.echo(f"{hive.yard}: {hive.label}{names}{', retired' if hive.retired else ''}")


@hives.command("add", epilog=examples("fieldvoice hives add --yard mill 7 8 'nuc 2'"))
@click.argument("labels", nargs=-1, required=True, metavar="LABEL...")
@click.option("--yard", "yard_name", help="Their yard (default: the one of your settings).")
@click.pass_obj
def add_hives(logbook: str | None, labels: tuple[str, ...], yard_name: str | None) -> None:
    """Add hives, in the order in which you walk them; all or none."""
    from fieldvoice.logbook.opening import writing
    from fieldvoice.logbook.register_changes import add_hive

    place = yard_name or load_settings(path_of(logbook)).yard
    with logbook_of(logbook, create=True) as opened, writing(opened):
        added = [add_hive(opened, label, place, now()).label for label in labels]
    click.echo(f"At {place}: {', '.join(added)}.")


@hives.command("rename", epilog=examples("fieldvoice hives rename 'nuc 2' 12"))
@click.argument("old")
@click.argument("new")
@click.option("--yard", "yard_name", help="The yard, if two yards have a hive of that label.")
@click.pass_obj
def rename_hive(logbook: str | None, old: str, new: str, yard_name: str | None) -> None:
    """Give the hive OLD the label NEW; its rows follow.

    OLD stays another name of it.
    """
    from fieldvoice.logbook.register import need_hive
    from fieldvoice.logbook.register_changes import rename_hive as rename

    with logbook_of(logbook, write=True) as opened:
        hive = need_hive(opened, old, yard_name)
        rename(opened, hive, new, now())
    click.echo(f"Hive {hive.label} is now {new}.")


@hives.command("alias", epilog=examples("fieldvoice hives alias 7 'the blue one'"))
@click.argument("label")
@click.argument("name")
@click.option("--remove", is_flag=True, help="Take the other name away again.")
@click.option("--yard", "yard_name", help="The yard, if two yards have a hive of that label.")
@click.pass_obj
def alias(logbook: str | None, label: str, name: str, remove: bool, yard_name: str | None) -> None:
    """Let the hive LABEL go by NAME too, such as "the blue one"."""
    from fieldvoice.logbook.register import need_hive
    from fieldvoice.logbook.register_changes import add_alias, drop_alias

    with logbook_of(logbook, write=True) as opened:
        hive = need_hive(opened, label, yard_name)
        if remove:
            drop_alias(opened, hive, name)
        else:
            add_alias(opened, hive, name, now())
    no_longer = " no longer" if remove else ""
    click.echo(f'Hive {hive.label} is{no_longer} "{name}".')


@hives.command("retire", epilog=examples("fieldvoice hives retire 12"))
@click.argument("label")
@click.option("--yard", "yard_name", help="The yard, if two yards have a hive of that label.")
@click.pass_obj
def retire(logbook: str | None, label: str, yard_name: str | None) -> None:
    """Take the hive LABEL out of use; its history stays."""
    from fieldvoice.logbook.register import need_hive
    from fieldvoice.logbook.register_changes import retire_hive

    with logbook_of(logbook, write=True) as opened:
        hive = need_hive(opened, label, yard_name)
        retire_hive(opened, hive, now())
    click.echo(f"Hive {hive.label} at {hive.yard} is retired; its history stays.")
