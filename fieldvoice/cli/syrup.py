"""`fieldvoice syrup`: what a mix takes, what a bag gives, how strong it is."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.ask import read_ratio
from fieldvoice.cli.examples import examples
from fieldvoice.cli.opened import path_of
from fieldvoice.settings import load_settings

if TYPE_CHECKING:
    from fieldvoice.answers.syrup import Mix

_UNITS = {
    "gal": "gallon", "gallon": "gallon", "qt": "quart", "quart": "quart", "pt": "pint",
    "pint": "pint", "cup": "cup", "l": "litre", "litre": "litre", "liter": "litre",
    "ml": "millilitre", "lb": "pound", "pound": "pound", "oz": "ounce", "kg": "kilogram",
    "g": "gram",
}  # fmt: skip


@click.command(
    epilog=examples(
        "fieldvoice syrup --want 5gal --ratio 2:1",
        "fieldvoice syrup --sugar 25lb --ratio 3:2",
        "fieldvoice syrup --sugar 4lb --water 2qt",
    )
)
@click.option("--want", help="How much syrup, as 2gal or 10l.")
@click.option("--sugar", help="How much sugar there is, as 25lb, 10kg or 8cup.")
@click.option("--water", help="How much water goes to that sugar, as 2qt or 3l.")
@click.option("--ratio", help="How strong, as 2:1, sugar first (default 1:1).")
@click.option("--by", type=click.Choice(["weight", "volume"]),
              help="Ratio by weight or by volume (default: your settings).")  # fmt: skip
@click.option("--imperial", is_flag=True, help="Gallons, quarts, pints are imperial ones.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@click.pass_obj
def syrup(
    logbook: str | None,
    want: str | None,
    sugar: str | None,
    water: str | None,
    ratio: str | None,
    by: str | None,
    imperial: bool,
    as_json: bool,
) -> None:
    """Sugar and water for a wanted amount, or syrup from what there is."""
    from fieldvoice.answers import syrup as mixing

    by = by or load_settings(path_of(logbook)).ratio_by
    if (want is None) == (sugar is None) or (water and not sugar) or (water and ratio):
        raise click.UsageError(
            "Say --want with --ratio, or --sugar with --ratio, or --sugar with --water."
        )
    percent = mixing.percent_of(read_ratio(ratio) or 1.0, by)
    if want is not None:
        mix = mixing.wanted(_amount(want, "litre", imperial=imperial), percent)
    else:
        kilograms = _amount(str(sugar), "kilogram", imperial=imperial)
        if water is not None:
            mix = mixing.Mix(kilograms, mixing.water_kg(_amount(water, "litre", imperial=imperial)))
        else:
            mix = mixing.from_sugar(kilograms, percent)
    lines = _lines(mix, by if water is None else "weight")
    click.echo(json.dumps(_json(mix), indent=1) if as_json else "\n".join(lines))


def _json(mix: Mix) -> dict[str, float | None]:
    from fieldvoice.answers.syrup import crystals_below

    below = crystals_below(mix.percent)
    return {
        "sugar_kg": round(mix.sugar_kg, 4),
        "water_kg": round(mix.water_kg, 4),
        "litres": round(mix.litres, 4),
        "percent_sugar_by_weight": round(mix.percent, 2),
        "crystals_below_c": None if below is None else round(below, 1),
    }


def _amount(text: str, to: str, *, imperial: bool) -> float:
    """ "25lb" in kilograms, "2 qt" in litres; cups of sugar by their weight."""
    from fieldvoice.answers.units import in_unit, measures
    from fieldvoice.trade.load import trade_file

    found = re.fullmatch(r"([\d.]+)\s*([a-z]+?)s?", text.strip().lower())
    unit = _UNITS.get(found[2]) if found else None
    try:
        number = float(found[1]) if found else 0.0
    except ValueError:
        number = 0.0
    if unit is None or number <= 0:
        raise click.UsageError(f"{text!r} is no amount; write it as 25lb, 10kg, 2gal, 3qt or 8cup.")
    if measures(unit) == "volume" and to == "kilogram":
        cups = in_unit(number, unit, "cup", imperial=imperial)
        return cups * float(trade_file("syrup")["cup"]["sugar"]) / 1000
    if measures(unit) != measures(to):
        raise click.UsageError(f"{text!r} is a weight; give a volume here, as 2gal or 3l.")
    return in_unit(number, unit, to, imperial=imperial)


def _lines(mix: Mix, by: str) -> list[str]:
    from fieldvoice.answers.syrup import crystals_below, cups_of_sugar, density
    from fieldvoice.answers.units import in_unit

    water = 1000 * mix.water_kg / density(0)
    below = crystals_below(mix.percent)
    lines = [
        f"sugar  {in_unit(mix.sugar_kg, 'kilogram', 'pound'):.2f} lb = {mix.sugar_kg:.2f} kg "
        f"(about {cups_of_sugar(mix.sugar_kg):.1f} US cups)",
        f"water  {in_unit(mix.water_kg, 'kilogram', 'pound'):.2f} lb = {mix.water_kg:.2f} kg "
        f"({in_unit(water, 'litre', 'quart'):.2f} US quarts, {water:.2f} L)",
        f"makes  {in_unit(mix.litres, 'litre', 'gallon'):.2f} US gallons = {mix.litres:.2f} L "
        f"({mix.litres / in_unit(1, 'gallon', 'litre', imperial=True):.2f} imperial gallons)",
        f"holds  {mix.percent:.1f} % sugar by weight, {mix.sugar_kg / mix.water_kg:.2f} to 1",
        f"Ratio by {by}; density at 20 °C from the CRC sucrose table.",
    ]
    if below is not None:
        lines.append(f"Below about {below:.0f} °C sugar falls out of it as crystals.")
    return lines
