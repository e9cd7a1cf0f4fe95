"""`fieldvoice days` and `fieldvoice honey`: calendars of brood and queens, weight and moisture."""

from __future__ import annotations

import json
from datetime import date

import click

from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import DAY, now


@click.command(
    epilog=examples(
        "fieldvoice days --graft 2026-05-01",
        "fieldvoice days --mark yellow",
    )
)
@click.option("--graft", type=DAY, help="Day-old larvae were grafted on this day.")
@click.option("--egg", type=DAY, help="An egg was laid on this day.")
@click.option("--caste", type=click.Choice(["worker", "queen", "drone"]), default="worker",
              show_default=True, help="With --egg: what it becomes.")  # fmt: skip
@click.option("--mark", help="The years a queen's mark can stand for.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
def days(graft: date | None, egg: date | None, caste: str, mark: str | None, as_json: bool) -> None:
    """The days that follow a graft or an egg; the years of a queen's colour."""
    from fieldvoice.answers import calendars

    if sum(given is not None for given in (graft, egg, mark)) != 1:
        raise click.UsageError("Say one of --graft DAY, --egg DAY or --mark COLOUR.")
    if mark is not None:
        years = calendars.years_of(mark, now().date())
        if not years:
            raise click.UsageError(f"{mark!r} is none of white, yellow, red, green, blue.")
        click.echo(f"{mark}: {years[0]}, or {years[1]}; not everyone follows the code.")
        return
    if graft is not None:
        windows = calendars.queen_calendar(graft)
    elif egg is not None and caste == "queen":
        windows = calendars.queen_calendar(egg, from_egg=True)
    else:
        windows = calendars.brood_calendar(egg or now().date(), caste)
    if as_json:
        raw = [{"what": w.name, "from": w.first.isoformat(), "to": w.last.isoformat(),
                "source": w.source} for w in windows]  # fmt: skip
        click.echo(json.dumps(raw, indent=1))
        return
    for window in windows:
        span = (
            f"{window.first}" if window.first == window.last else f"{window.first} to {window.last}"
        )
        click.echo(f"{window.name:20} {span:26} {window.source}")


@click.command(
    epilog=examples(
        "fieldvoice honey --gallons 5 --moisture 18",
        "fieldvoice honey --frames 8 --depth deep",
        "fieldvoice honey --moisture 18.2 --correction -0.5",
    )
)
@click.option("--gallons", type=float, help="US gallons of honey, to be told in pounds.")
@click.option("--moisture", type=float, help="Percent water, as read.")
@click.option("--correction", type=float, default=0.0, help="The refractometer's side scale.")
@click.option("--frames", type=float, help="Full frames of honey, to be told in pounds.")
@click.option("--boxes", type=float, help="Full ten-frame boxes, to be told in pounds.")
@click.option(
    "--depth", type=click.Choice(["deep", "medium", "shallow"]), help="Of frames or boxes."
)
def honey(
    gallons: float | None,
    moisture: float | None,
    correction: float,
    frames: float | None,
    boxes: float | None,
    depth: str | None,
) -> None:
    """What honey weighs, from gallons, frames or boxes; how its moisture stands."""
    from fieldvoice.answers import comb

    if boxes is not None and depth is None:
        raise click.UsageError("Say how deep the boxes are, with --depth.")
    if all(given is None for given in (gallons, moisture, frames, boxes)):
        raise click.UsageError("Say --gallons, --frames, --boxes or --moisture.")
    wet = None if moisture is None else comb.moisture_at_20(moisture, correction)
    if wet is not None:
        click.echo(f"{wet:g} % water: {comb.moisture_says(wet)}.")
    if gallons is not None:
        if wet is None:
            raise click.UsageError("The weight of honey hangs on its water: say --moisture.")
        click.echo(f"{gallons:g} US gallons weigh {comb.honey_pounds(gallons, wet):.1f} lb.")
    if frames is not None:
        low, high = comb.honey_in((frames, frames), depth)
        kind = f"full {depth} frames" if depth else "full frames of unknown depth"
        click.echo(f"{frames:g} {kind} hold about {low:.0f} to {high:.0f} lb (weak sources).")
    if boxes is not None and depth is not None:
        low, high = comb.honey_in_boxes((boxes, boxes), depth)
        click.echo(
            f"{boxes:g} full {depth} boxes weigh about {low:.0f} to {high:.0f} lb with wood."
        )
