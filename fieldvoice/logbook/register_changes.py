"""Changes to the register: yards and hives added, renamed, nicknamed, retired."""

from __future__ import annotations

import uuid
from datetime import datetime

from fieldvoice.errors import InputError
from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook, writing
from fieldvoice.logbook.register import (
    Hive,
    clean_label,
    clean_name,
    hives,
    need_hive,
    need_yard,
    yards,
)


def add_yard(logbook: Logbook, name: str, at: datetime) -> int:
    """The yard's row; made if it is not there yet."""
    name = clean_name(name, "yard")
    with writing(logbook):
        found = logbook.execute("SELECT id FROM yards WHERE name = ?", [name]).fetchone()
        if found:
            return int(found[0])
        row = {"uuid": str(uuid.uuid4()), "name": name, "added_at": utc_text(at)}
        return int(logbook["yards"].insert(row).last_pk)


def rename_yard(logbook: Logbook, old: str, new: str) -> None:
    """Give a yard another name; its rows follow.

    Raises:
        InputError: no yard is named `old`, or another one is named `new`.
    """
    new = clean_name(new, "yard")
    with writing(logbook):
        yard = need_yard(logbook, old)
        if any(y.name.lower() == new.lower() and y.id != yard.id for y in yards(logbook)):
            raise InputError(f"There is a yard {new} already; choose another name.")
        logbook.execute("UPDATE yards SET name = ? WHERE id = ?", [new, yard.id])


def add_hive(logbook: Logbook, label: str, yard: str, at: datetime) -> Hive:
    """Put a hive into the register, at the end of its yard's row.

    Raises:
        InputError: the label cannot be one, or a hive of that yard has it.
    """
    label = clean_label(label)
    with writing(logbook):
        yard_id = add_yard(logbook, yard, at)
        if any(h.label.lower() == label.lower() for h in hives(logbook, yard=yard)):
            raise InputError(f"There is a hive {label} at {yard} already.")
        # A label that is given to a hive of its own is no other hive's nickname any more.
        logbook.execute(
            "DELETE FROM aliases WHERE alias = ?"
            " AND hive_id IN (SELECT id FROM hives WHERE yard_id = ?)",
            [label, yard_id],
        )
        last = logbook.execute(
            "SELECT coalesce(max(position), 0) FROM hives WHERE yard_id = ?", [yard_id]
        ).fetchone()[0]
        logbook["hives"].insert(
            {
                "uuid": str(uuid.uuid4()),
                "yard_id": yard_id,
                "label": label,
                "position": last + 1,
                "added_at": utc_text(at),
            }
        )
        return need_hive(logbook, label, yard)


def rename_hive(logbook: Logbook, hive: Hive, new: str, at: datetime) -> None:
    """Give a hive another label; its rows follow, and the old label becomes an alias.

    Raises:
        InputError: the label cannot be one, or another hive of that yard has it.
    """
    new = clean_label(new)
    with writing(logbook):
        others = [h for h in hives(logbook, yard=hive.yard) if h.id != hive.id]
        if any(h.label.lower() == new.lower() for h in others):
            raise InputError(f"There is a hive {new} at {hive.yard} already.")
        logbook.execute("DELETE FROM aliases WHERE hive_id = ? AND alias = ?", [hive.id, new])
        logbook.execute("UPDATE hives SET label = ? WHERE id = ?", [new, hive.id])
        if new.lower() != hive.label.lower():
            _insert_alias(logbook, hive.id, hive.label, "renamed", at)


def add_alias(
    logbook: Logbook, hive: Hive, alias: str, at: datetime, *, source: str = "keeper"
) -> None:
    """Let a hive go by another name too: "blue one"; `source` is "keeper" or "learnt".

    Raises:
        InputError: the name belongs to another hive of the yard.
    """
    alias = clean_label(alias)
    with writing(logbook):
        for other in hives(logbook, yard=hive.yard):
            names = [name.lower() for name in (other.label, *other.aliases)]
            if alias.lower() in names:
                if other.id == hive.id:
                    return
                raise InputError(f'"{alias}" is a name of hive {other.label} already.')
        _insert_alias(logbook, hive.id, alias, source, at)


def drop_alias(logbook: Logbook, hive: Hive, alias: str) -> None:
    """Take a hive's other name away.

    Raises:
        InputError: the hive does not go by that name.
    """
    alias = clean_label(alias)
    with writing(logbook):
        if alias.lower() not in (name.lower() for name in hive.aliases):
            known = ", ".join(hive.aliases) or "none"
            raise InputError(f'"{alias}" is no other name of hive {hive.label} (known: {known}).')
        logbook.execute("DELETE FROM aliases WHERE hive_id = ? AND alias = ?", [hive.id, alias])


def retire_hive(logbook: Logbook, hive: Hive, at: datetime) -> None:
    """Take a hive out of use; its history stays."""
    with writing(logbook):
        logbook.execute("UPDATE hives SET retired_at = ? WHERE id = ?", [utc_text(at), hive.id])


def _insert_alias(logbook: Logbook, hive_id: int, alias: str, source: str, at: datetime) -> None:
    logbook["aliases"].insert(
        {
            "uuid": str(uuid.uuid4()),
            "hive_id": hive_id,
            "alias": alias,
            "source": source,
            "added_at": utc_text(at),
        },
        ignore=True,
    )
