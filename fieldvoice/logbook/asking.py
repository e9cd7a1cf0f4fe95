"""Rows of the log for answers: only what was asked for, oldest first, without the evidence."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.register import Hive
from fieldvoice.types import Fact, Value, When


@dataclass(frozen=True, slots=True)
class Which:
    """Which rows; an empty tuple or None leaves a field open. Days are local and inclusive."""

    kinds: tuple[str, ...] = ()
    actions: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    statuses: tuple[str, ...] = ()
    since: date | None = None
    until: date | None = None
    yard: str | None = None
    hive: Hive | None = None  # its own rows and those about all hives of its yard
    mentions: bool = False  # with `hive`: rows of other hives that name it, too
    words: str = ""  # all of them in the quote or the item
    ratio: float | None = None  # sugar over water
    uuids: tuple[str, ...] = ()
    newest: int | None = None  # only so many, the newest; still oldest first


_COLUMNS = (
    "entries.id, entries.uuid, entries.hive_id, coalesce(hives.label, entries.hive), yards.name,"
    " entries.day, entries.kind, entries.action, entries.item, entries.status,"
    " entries.when_from, entries.when_to, entries.details, entries.quote"
)
_FROM = (
    " FROM entries JOIN yards ON yards.id = entries.yard_id"
    " LEFT JOIN hives ON hives.id = entries.hive_id"
)


def facts(logbook: Logbook, which: Which) -> tuple[Fact, ...]:
    """The rows that pass, oldest first, each recording in the order it was said."""
    where, values = _where(which)
    order, limit = "", ""
    if which.newest is not None:
        order, limit = " DESC", f" LIMIT {int(which.newest)}"
    rows = logbook.conn.execute(
        f"SELECT {_COLUMNS}{_FROM}{' WHERE ' if where else ''}{' AND '.join(where)}"
        f" ORDER BY entries.day{order}, entries.recorded_at{order}, entries.id{order}{limit}",
        values,
    ).fetchall()
    if order:
        rows.reverse()
    numbers = _numbers(logbook, [row[0] for row in rows])
    return tuple(_fact(row, numbers.get(row[0], ())) for row in rows)


def count_facts(logbook: Logbook, which: Which) -> int:
    """How many rows pass."""
    where, values = _where(which)
    return int(
        logbook.conn.execute(
            f"SELECT count(*){_FROM}{' WHERE ' if where else ''}{' AND '.join(where)}", values
        ).fetchone()[0]
    )


def _where(which: Which) -> tuple[list[str], dict[str, Any]]:
    where: list[str] = []
    values: dict[str, Any] = {}
    for column, wanted in (
        ("kind", which.kinds), ("action", which.actions), ("item", which.items),
        ("status", which.statuses), ("uuid", which.uuids),
    ):  # fmt: skip
        if wanted:
            names = [f"{column}{n}" for n in range(len(wanted))]
            where.append(f"entries.{column} IN ({', '.join(f':{name}' for name in names)})")
            values |= dict(zip(names, wanted, strict=True))
    for name, sign, day in (("since", ">=", which.since), ("until", "<=", which.until)):
        if day is not None:
            where.append(f"entries.day {sign} :{name}")
            values[name] = day.isoformat()
    if which.yard is not None:
        where.append("yards.name = :yard COLLATE NOCASE")
        values["yard"] = which.yard
    if which.hive is not None:
        where.append(f"entries.id IN ({_HIVE}{_MENTIONS if which.mentions else ''})")
        values |= {"hive_id": which.hive.id, "label": which.hive.label}
    if which.ratio is not None:
        where.append(
            "entries.id IN (SELECT entry_id FROM entry_values WHERE role = 'ratio'"
            " AND lo <= :ratio * 1.001 AND hi >= :ratio * 0.999)"
        )
        values["ratio"] = which.ratio
    if words := which.words.replace('"', " ").split():
        where.append("entries.id IN (SELECT rowid FROM entries_fts WHERE entries_fts MATCH :words)")
        values["words"] = " ".join(f'"{word}"' for word in words)
    elif which.words:
        raise InputError("Say at least one word to look for.")
    return where, values


_HIVE = (
    "SELECT id FROM entries WHERE hive_id = :hive_id"
    " UNION SELECT e.id FROM entries e JOIN hives h ON h.yard_id = e.yard_id"
    " AND e.hive = 'all' AND h.id = :hive_id"
)
_MENTIONS = (
    " UNION SELECT id FROM entries WHERE json_extract(details, '$.target_hive') = :label"
    " UNION SELECT id FROM entries WHERE json_extract(details, '$.source_hive') = :label"
)


def _numbers(logbook: Logbook, ids: list[int]) -> dict[int, tuple[Value, ...]]:
    found: dict[int, list[Value]] = defaultdict(list)
    for owner, *parts in logbook.conn.execute(
        "SELECT entry_id, role, lo, hi, unit, approx, said FROM entry_values"
        " WHERE entry_id IN (SELECT value FROM json_each(?)) ORDER BY entry_id, position",
        [json.dumps(ids)],
    ):
        found[owner].append(_value(*parts))
    return {owner: tuple(values) for owner, values in found.items()}


# A log says the same things again and again: what was read once is not made anew.


@lru_cache(maxsize=8192)
def _value(role: str, lo: float, hi: float, unit: str | None, approx: int, said: str) -> Value:
    return Value(role, lo, hi, unit, approx == 1, said)


@lru_cache(maxsize=8192)
def _details(text: str) -> Mapping[str, str]:
    return MappingProxyType(json.loads(text))


@lru_cache(maxsize=8192)
def _day(text: str) -> date:
    return date.fromisoformat(text)


def _fact(row: tuple[Any, ...], numbers: tuple[Value, ...]) -> Fact:
    first, last = row[10], row[11]
    when = When(first and _day(first), last and _day(last)) if first or last else None
    return Fact(
        row[1], row[2], row[3], row[4], _day(row[5]), row[6], row[7], row[8], row[9],
        numbers, when, _details(row[12]), row[13],
    )  # fmt: skip
