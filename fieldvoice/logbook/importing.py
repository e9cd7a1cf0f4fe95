"""Rows that were written elsewhere, put into the log as confirmed by the keeper who imports them."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from fieldvoice.errors import InputError
from fieldvoice.logbook.drafts import save_step
from fieldvoice.logbook.opening import Logbook, writing
from fieldvoice.logbook.recordings import keep_heard, new_uuid
from fieldvoice.logbook.register import find_hive
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.types import Change, Draft, Entry, RecordedAt, Recording, Step, Transcript


@dataclass(frozen=True, slots=True)
class Written:
    """One row and the visit it belongs to; there is no sound behind it."""

    uuid: str
    recording: str  # uuid of the visit
    at: datetime
    yard: str
    confirmed_at: datetime
    entry: Entry


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import did."""

    rows: int
    known: int  # were in the log already
    hives: tuple[str, ...]  # added to the register


def import_rows(
    logbook: Logbook, rows: Sequence[Written], name: str, at: datetime, *, add_hives: bool
) -> Imported:
    """Put rows into the log; those whose uuid it has are left alone. All or nothing.

    Raises:
        InputError: hives are not in the register and `add_hives` is not asked for.
    """
    added: list[str] = []
    with writing(logbook):
        known = {uuid for (uuid,) in logbook.execute("SELECT uuid FROM drafts").fetchall()}
        fresh = [row for row in rows if row.uuid not in known]
        named = dict.fromkeys(
            (row.yard, row.entry.hive) for row in fresh if row.entry.hive not in (None, "all")
        )
        missing = [
            (yard, hive)
            for yard, hive in named
            if find_hive(logbook, str(hive), yard, retired=True) is None
        ]
        if missing and not add_hives:
            names = ", ".join(sorted({str(hive) for _, hive in missing})[:12])
            raise InputError(
                f"Not in the register: {names}. Add them with `fieldvoice hives add`, or "
                "import with --add-hives."
            )
        for yard, hive in missing:
            added.append(add_hive(logbook, str(hive), yard, at).label)
        visits: dict[str, list[Written]] = defaultdict(list)
        for row in fresh:
            visits[row.recording].append(row)
        for visit in visits.values():
            _keep(logbook, visit, name, at)
    return Imported(len(fresh), len(rows) - len(fresh), tuple(added))


def _keep(logbook: Logbook, rows: Sequence[Written], name: str, at: datetime) -> None:
    first = rows[0]
    recording = Recording(
        first.recording, hashlib.sha256(f"written {first.recording}".encode()).hexdigest(), name,
        RecordedAt(first.at, "option"), first.yard, 0.0, "heard",
    )  # fmt: skip
    known = logbook.execute(
        "SELECT uuid FROM recordings WHERE uuid = ?", [first.recording]
    ).fetchone()
    if known is None:
        keep_heard(logbook, recording, Transcript("", "en", "written", "", 0.0), at)
        logbook.execute("UPDATE recordings SET stage = 'drafted' WHERE uuid = ?", [first.recording])
    steps: dict[datetime, list[Written]] = defaultdict(list)
    for row in rows:
        steps[row.confirmed_at].append(row)
    for moment, own in steps.items():
        changes = tuple(
            Change(None, Draft(row.uuid, row.recording, 1, "confirmed", row.entry)) for row in own
        )
        save_step(logbook, Step(new_uuid(), moment, "write", changes))
