"""The register: yards, the hives in them, and the other names hives go by."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

from fieldvoice.errors import InputError
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.types import Register

_LONGEST_NAME = 40


@dataclass(frozen=True, slots=True)
class Hive:
    """A hive of the register."""

    id: int
    label: str
    yard: str
    aliases: tuple[str, ...]
    retired: bool


@dataclass(frozen=True, slots=True)
class Yard:
    """A yard of the register, with the number of hives that are not retired."""

    id: int
    name: str
    hives: int


def read_register_of(path: Path, yard: str | None = None) -> Register:
    """The register of the logbook at `path`; empty if there is none. Never makes one.

    With `yard`, its hives come first and its aliases win.

    Raises:
        LogbookError: the file is not a logbook that this program can read.
    """
    if not path.exists():
        return Register()
    with open_logbook(path) as logbook:
        return read_register(logbook, yard)


def read_register(logbook: Logbook, yard: str | None = None) -> Register:
    """Labels of the hives that are not retired, in walking order, and their aliases."""
    known = hives(logbook)
    if yard is not None:
        known = tuple(sorted(known, key=lambda hive: hive.yard.lower() != yard.lower()))
    aliases: dict[str, str] = {}
    for hive in known:
        for alias in hive.aliases:
            aliases.setdefault(alias.lower(), hive.label)
    return Register(tuple(dict.fromkeys(hive.label for hive in known)), aliases)


def hives(logbook: Logbook, *, yard: str | None = None, retired: bool = False) -> tuple[Hive, ...]:
    """The hives, in walking order, yard by yard; retired ones only if asked for."""
    rows = logbook.query(
        "SELECT hives.id, label, yards.name AS yard, hives.retired_at,"
        " (SELECT json_group_array(alias) FROM aliases WHERE hive_id = hives.id) AS aliases"
        " FROM hives JOIN yards ON yards.id = yard_id"
        " WHERE (:yard IS NULL OR yards.name = :yard COLLATE NOCASE)"
        " AND (:retired OR hives.retired_at IS NULL)"
        " ORDER BY yards.id, position, hives.id",
        {"yard": yard, "retired": retired},
    )
    return tuple(
        Hive(
            row["id"],
            row["label"],
            row["yard"],
            tuple(json.loads(row["aliases"])),
            row["retired_at"] is not None,
        )
        for row in rows
    )


def yards(logbook: Logbook) -> tuple[Yard, ...]:
    """The yards, oldest first."""
    rows = logbook.query(
        "SELECT yards.id, name, count(hives.id) AS hives FROM yards"
        " LEFT JOIN hives ON yard_id = yards.id AND hives.retired_at IS NULL"
        " GROUP BY yards.id ORDER BY yards.id"
    )
    return tuple(Yard(row["id"], row["name"], row["hives"]) for row in rows)


def need_yard(logbook: Logbook, name: str) -> Yard:
    """The yard of that name.

    Raises:
        InputError: there is none; the known ones are named.
    """
    known = yards(logbook)
    for yard in known:
        if yard.name.lower() == name.strip().lower():
            return yard
    names = ", ".join(yard.name for yard in known) or "none yet"
    raise InputError(f"There is no yard {name} (known: {names}).")


def find_hive(
    logbook: Logbook, name: str, yard: str | None = None, *, retired: bool = False
) -> Hive | None:
    """The hive of that label or alias, in `yard` first, then anywhere; None if unknown.

    With `retired`, retired hives are asked after those in use.

    Raises:
        InputError: the name fits hives of several yards and none of them is `yard`.
    """
    wanted = clean_label(name).lower()
    known = hives(logbook, retired=retired)
    for named in (
        [h for h in known if h.label.lower() == wanted and not h.retired],
        [h for h in known if wanted in map(str.lower, h.aliases) and not h.retired],
        [h for h in known if wanted in map(str.lower, (h.label, *h.aliases)) and h.retired],
    ):
        here = [h for h in named if yard is not None and h.yard.lower() == yard.lower()]
        if here or len(named) == 1:
            return (here or named)[0]
        if named:
            places = " and ".join(sorted(h.yard for h in named))
            raise InputError(f"There is a hive {name} at {places}; say which with --yard.")
    return None


def need_hive(
    logbook: Logbook, name: str, yard: str | None = None, *, retired: bool = False
) -> Hive:
    """As `find_hive`, but it must be known, and at `yard` if one is named.

    Raises:
        InputError: it is not; the known ones are named.
    """
    place = need_yard(logbook, yard).name if yard is not None else None
    hive = find_hive(logbook, name, place, retired=retired)
    if hive is None or (place is not None and hive.yard != place):
        known = ", ".join(h.label for h in hives(logbook, yard=place)[:12]) or "none yet"
        at = f" at {place}" if place else " in the register"
        raise InputError(
            f"There is no hive {name}{at} (known: {known}); "
            f"add it with `fieldvoice hives add {name}`."
        )
    return hive


def clean_label(label: str) -> str:
    """A hive's label as the register has it: "Hive 7" is 7, "the blue one" is blue one.

    Raises:
        InputError: nothing is left, it is too long, or it means every hive.
    """
    bare = re.sub(r"^(?:the|hive|colony)\s+(?=\S)", "", " ".join(label.split()), flags=re.I)
    bare = clean_name(bare, "hive")
    if bare.lower() == "all":
        raise InputError('"all" means every hive; choose another label.')
    return bare


def clean_name(name: str, what: str) -> str:
    """A name without stray spaces.

    Raises:
        InputError: it is empty, too long, or holds control characters.
    """
    name = " ".join(name.split())
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise InputError(
            f"{name!r} cannot name a {what}; use 1 to {_LONGEST_NAME} letters and digits."
        )
    return name
