"""When each hive of the register began and ended to be there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fieldvoice.logbook.opening import Logbook


@dataclass(frozen=True, slots=True)
class RegisterDays:
    """The first day a hive is known, and the day it was retired."""

    first: date  # added to the register, or its first row
    retired: date | None


def register_days(logbook: Logbook) -> dict[int, RegisterDays]:
    """By the hive's id."""
    return {
        number: RegisterDays(
            min(date.fromisoformat(text) for text in (added, first) if text),
            date.fromisoformat(retired) if retired else None,
        )
        for number, added, first, retired in logbook.execute(
            "SELECT id, substr(added_at, 1, 10),"
            " (SELECT min(day) FROM entries WHERE hive_id = hives.id),"
            " substr(retired_at, 1, 10) FROM hives"
        ).fetchall()
    }
