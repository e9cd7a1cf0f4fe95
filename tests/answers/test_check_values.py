"""Every figure of the check table, each with where it comes from.

`check_values.csv` was put together from published tables and worked examples; its last column
grades each: S read in a source, C computed from read figures. Sources by quantity are below.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from fieldvoice.answers import calendars, comb, sampling, syrup
from fieldvoice.answers.units import in_unit

SOURCES = {
    "sucrose density 20C": "CRC Handbook, aqueous sucrose; physics laboratory tables, Torun",
    "syrup volume": "computed from the CRC densities",
    "sugar for 1 US gal": "computed from the CRC densities",
    "water for 1 US gal": "computed from the CRC densities",
    "strength": "computed; cups from a published comparison of weight and volume",
    "mites per 100": "a university laboratory's wash guide (half a cup, 300 bees)",
    "Wilson 95% CI": "Wilson 1927, as COLOSS BEEBOOK's statistics chapter recommends",
    "Clopper-Pearson 95% CI": "Clopper and Pearson 1934",
    "two-wash conditional test p": "Przyborowski and Wilenski 1940",
    "development days egg/larva/capped/total": "day table printed alike by three pages",
    "queen colour": "international colour code: bee research mailing list 2000, a blog of 2019",
    "queen calendar sealed": "trade journal, 20 June 2018",
    "queen calendar to mating nuc": "a grafting timetable",
    "queen calendar emerges": "B. Harden's guide; grafting timetable",
    "queen calendar first mating flight": "trade journal, 20 June 2018",
    "queen calendar look for eggs": "a queen breeder's dated diary, June 2011",
    "queen calendar judge pattern": "a queen breeder's dated diary, June 2011",
    "treatment out window": "computed from the days of a label record",
    "earliest supers": "computed from the days of a label record",
    "oxalic trickle volume": "UK leaflet quoted on a forum, and slides of the authority",
    "moisture correction": "a keeper's blog on refractometers, 2007",
    "feed needed": "rule of a farm recipe page, 7 lb a gallon",
    "honey weight": "specific gravity 1.417 at 18 %, club page",
    "doubling time": "Herts beekeepers: 40 % in each cycle of 13 days",
}
ROWS = list(
    csv.DictReader(
        (Path(__file__).parent / "check_values.csv").read_text(encoding="utf-8").splitlines()
    )
)


def numbers(text: str) -> list[float]:
    return [float(n) for n in re.findall(r"(?<![\d.])-?\d+(?:\.\d+)?", text)]


def mix_of(text: str) -> syrup.Mix:
    """ "4 lb sugar + 0.5 US gal water" and the like."""
    sugar, water = (
        re.match(r"([\d.]+) (US cups?|US gal|lb|kg)", part) for part in text.split(" + ")
    )
    assert sugar is not None
    assert water is not None
    kilograms = {"lb": 0.45359237, "kg": 1.0}
    if sugar[2].startswith("US cup"):
        percent = syrup.percent_of(float(sugar[1]) / float(water[1]), "volume")
        return syrup.Mix(percent, 100 - percent)
    if water[2] == "US gal":
        weight = syrup.water_kg(in_unit(float(water[1]), "gallon", "litre"))
    else:
        weight = float(water[1]) * kilograms[water[2]]
    return syrup.Mix(float(sugar[1]) * kilograms[sugar[2]], weight)


def volume(row: dict[str, str]) -> list[float]:
    litres = mix_of(row["input"]).litres
    return [litres if row["unit"] == "L" else in_unit(litres, "litre", "gallon")]


def part(row: dict[str, str], name: str) -> list[float]:
    percent = 200 / 3 if row["input"].startswith("66.7") else numbers(row["input"])[0]
    mix = syrup.wanted(in_unit(1, "gallon", "litre"), percent)
    return [in_unit(getattr(mix, name), "kilogram", "pound")]


def two_washes(row: dict[str, str]) -> list[float]:
    first, second, bees = (int(n) for n in numbers(row["input"]))
    return [sampling.chance_of_change((first, bees), (second, bees))]


def whole(row: dict[str, str]) -> tuple[int, int]:
    mites, bees = (int(n) for n in numbers(row["input"]))
    return mites, bees


def queen_day(row: dict[str, str], name: str) -> list[date]:
    graft = date.fromisoformat(row["input"].split()[1])
    window = next(w for w in calendars.queen_calendar(graft) if w.name == name)
    return [window.first, window.last]


def out_days(row: dict[str, str]) -> list[date]:
    start, low, high = re.match(r"in (\S+), (\d+)-(\d+) days", row["input"]).groups()  # type: ignore[union-attr]
    window = calendars.out_window(date.fromisoformat(start), (int(low), int(high)))
    return [window.first, window.last]


def supers_day(row: dict[str, str]) -> list[date]:
    out, days = re.match(r"strips out (\S+), (\d+) days", row["input"]).groups()  # type: ignore[union-attr]
    return [calendars.earliest_supers(date.fromisoformat(out), int(days))]


COMPUTE: dict[str, Callable[[dict[str, str]], list[object]]] = {
    "sucrose density 20C": lambda r: [syrup.density(numbers(r["input"])[0])],
    "syrup volume": volume,
    "sugar for 1 US gal": lambda r: part(r, "sugar_kg"),
    "water for 1 US gal": lambda r: part(r, "water_kg"),
    "strength": lambda r: [mix_of(r["input"]).percent],
    "mites per 100": lambda r: [sampling.per_hundred(*whole(r))],
    "Wilson 95% CI": lambda r: list(sampling.wilson(*whole(r))),
    "Clopper-Pearson 95% CI": lambda r: list(sampling.exact(*whole(r))),
    "two-wash conditional test p": two_washes,
    "development days egg/larva/capped/total": lambda r: list(calendars.stage_days(r["input"])),
    "queen colour": lambda r: [calendars.queen_colour(int(r["input"]))],
    "queen calendar sealed": lambda r: queen_day(r, "sealed"),
    "queen calendar to mating nuc": lambda r: queen_day(r, "to mating nucs"),
    "queen calendar emerges": lambda r: queen_day(r, "emerges"),
    "queen calendar first mating flight": lambda r: queen_day(r, "first mating flight"),
    "queen calendar look for eggs": lambda r: queen_day(r, "look for eggs"),
    "queen calendar judge pattern": lambda r: queen_day(r, "judge the pattern"),
    "treatment out window": out_days,
    "earliest supers": supers_day,
    "oxalic trickle volume": lambda r: [comb.trickle_volume(5, numbers(r["input"])[1])],
    "moisture correction": lambda r: [comb.moisture_at_20(18.2, -0.5)],
    "feed needed": lambda r: [syrup.feed_needed(numbers(r["input"])[0])[0]],
    "honey weight": lambda r: [comb.honey_pounds(1, numbers(r["input"])[0])],
    "doubling time": lambda r: [sampling.doubling_days()],
}  # type: ignore[dict-item]


def test_the_table_is_whole() -> None:
    assert len(ROWS) == 101
    assert {row["quantity"] for row in ROWS} == set(COMPUTE) == set(SOURCES)


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_check_value(row: dict[str, str]) -> None:
    found = COMPUTE[row["quantity"]](row)
    expected = row["expected"].split(";")
    if row["tolerance"] == "exact":
        assert [f"{f:g}" if isinstance(f, float) else str(f) for f in found] == expected
    elif row["tolerance"] == "1 day":
        # the expected day is inside the window, or at most a day off it
        first, last = found
        assert (first - date.fromisoformat(expected[0])).days <= 1  # type: ignore[operator]
        assert (date.fromisoformat(expected[0]) - last).days <= 1  # type: ignore[operator]
        assert (last - first).days <= 2  # type: ignore[operator]
    else:
        for have, want in zip(found, map(float, expected), strict=True):
            allowed = (
                abs(want) / 100 if row["tolerance"] == "1%" else float(row["tolerance"].split()[0])
            )
            assert have == pytest.approx(want, abs=allowed), (row, SOURCES[row["quantity"]])
