"""Drafts: what extraction proposed, and every decision on it, never overwritten unseen."""

from __future__ import annotations

import json
import uuid
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import groupby
from typing import Any

from fieldvoice.errors import InputError, StaleError
from fieldvoice.logbook.entries import keep_entry, remove_entry
from fieldvoice.logbook.moments import local_moment, utc_text
from fieldvoice.logbook.opening import Logbook, writing
from fieldvoice.logbook.renewing import Known, renewed
from fieldvoice.logbook.rows import (
    draft_from_json,
    draft_to_json,
    entry_columns,
    entry_of,
    value_columns,
)
from fieldvoice.types import Change, Draft, Entry, Step

_SELECT = (
    "SELECT drafts.*, recordings.uuid AS recording FROM drafts"
    " JOIN recordings ON recordings.id = recording_id"
)
_ORDER = " ORDER BY recordings.recorded_at, recordings.id, start_s IS NULL, start_s, drafts.id"


def keep_drafts(logbook: Logbook, recording: str, entries: Iterable[Entry], at: datetime) -> int:
    """Put the drafts of a recording into the logbook; the recording is then "drafted".

    One transaction. When another process has done it in the meantime, its drafts stay.
    Drafts of an earlier reading, made while it was recorded, give way unless they were
    decided on. Returns how many drafts the recording has.
    """
    with writing(logbook):
        row_id, stage = logbook.execute(
            "SELECT id, stage FROM recordings WHERE uuid = ?", [recording]
        ).fetchone()
        if stage == "heard":
            new, gone = renewed(_known(logbook, row_id), tuple(entries))
            logbook.execute(
                "DELETE FROM drafts WHERE uuid IN (SELECT value FROM json_each(?))",
                [json.dumps(gone)],
            )
            for entry in new:
                draft = Draft(str(uuid.uuid4()), recording, 1, "waiting", entry)
                _insert(logbook, draft, row_id, at)
            logbook.execute("UPDATE recordings SET stage = 'drafted' WHERE id = ?", [row_id])
        return int(
            logbook.execute(
                "SELECT count(*) FROM drafts WHERE recording_id = ?", [row_id]
            ).fetchone()[0]
        )


def waiting_drafts(logbook: Logbook, recording: str | None = None) -> tuple[Draft, ...]:
    """Drafts nobody has decided on, in the order they were said, oldest recording first."""
    where = " WHERE state = 'waiting'"
    if recording is None:
        return _drafts(logbook, logbook.query(f"{_SELECT}{where}{_ORDER}"))
    rows = logbook.query(f"{_SELECT}{where} AND recordings.uuid = ?{_ORDER}", [recording])
    return _drafts(logbook, rows)


def waiting_recordings(logbook: Logbook) -> tuple[str, ...]:
    """The recordings with drafts that nobody has decided on, the oldest first."""
    rows = logbook.query(
        "SELECT DISTINCT recordings.uuid FROM drafts"
        " JOIN recordings ON recordings.id = recording_id WHERE state = 'waiting'"
        " ORDER BY recorded_at, recordings.id"
    )
    return tuple(row["uuid"] for row in rows)


def drafts_of(logbook: Logbook, recording: str) -> tuple[Draft, ...]:
    """The rows of a recording that wait, are in the log or were rejected, as they were said."""
    shown = " WHERE state IN ('waiting', 'confirmed', 'rejected') AND recordings.uuid = ?"
    return _drafts(logbook, logbook.query(f"{_SELECT}{shown}{_ORDER}", [recording]))


def versions_of(logbook: Logbook, recording: str) -> dict[str, int]:
    """The version of each row that `drafts_of` gives: what a change to any of them changes."""
    rows = logbook.query(
        "SELECT drafts.uuid, version FROM drafts JOIN recordings ON recordings.id = recording_id"
        " WHERE state IN ('waiting', 'confirmed', 'rejected') AND recordings.uuid = ?"
        " ORDER BY drafts.uuid",
        [recording],
    )
    return {row["uuid"]: row["version"] for row in rows}


def get_drafts(logbook: Logbook, uuids: Sequence[str]) -> dict[str, Draft]:
    """The drafts of these uuids, as they are now."""
    rows = logbook.query(
        f"{_SELECT} WHERE drafts.uuid IN (SELECT value FROM json_each(?))",
        [json.dumps(list(uuids))],
    )
    return {draft.uuid: draft for draft in _drafts(logbook, rows)}


def save_step(logbook: Logbook, step: Step) -> None:
    """Keep a decision: the drafts, the rows of the log and the history, or none of them.

    Raises:
        StaleError: a draft has changed since the keeper saw it.
        InputError: a confirmed row names a hive that is not in the register.
    """
    with writing(logbook):
        now = get_drafts(logbook, [change.after.uuid for change in step.changes])
        for change in step.changes:
            found = now.get(change.after.uuid)
            if (found.version if found else None) != (
                change.before.version if change.before else None
            ):
                raise StaleError(
                    f'The row "{change.after.entry.quote}" was changed elsewhere in the '
                    "meantime; nothing was overwritten. Look at it again and decide anew."
                )
            _save(logbook, step, change)
            _note(logbook, step, change)


def steps(logbook: Logbook, recording: str | None = None) -> Iterator[Step]:
    """The decisions, on one recording if named, newest first, read as they are asked for."""
    where = (
        " WHERE draft IN (SELECT drafts.uuid FROM drafts"
        " JOIN recordings ON recordings.id = recording_id WHERE recordings.uuid = ?)"
    )
    rows = logbook.query(
        f"SELECT * FROM history{where if recording else ''} ORDER BY id DESC",
        [recording] if recording else [],
    )
    for _, group in groupby(rows, lambda row: row["step"]):
        yield _step(list(group)[::-1])


def _known(logbook: Logbook, recording_id: int) -> tuple[Known, ...]:
    """All drafts of a recording as they were drafted, before anybody decided on them.

    What a person wrote or split off was never drafted; it is not among them.
    """
    first = {
        row["draft"]: json.loads(row["before"]) if row["before"] else None
        for row in logbook.query(
            "SELECT draft, before FROM history WHERE draft IN"
            " (SELECT uuid FROM drafts WHERE recording_id = ?) ORDER BY id DESC",
            [recording_id],
        )
    }
    rows = logbook.query(f"{_SELECT} WHERE recording_id = ?{_ORDER}", [recording_id])
    return tuple(
        Known(draft.uuid, draft_from_json(before).entry if before else draft.entry, bool(before))
        for draft in _drafts(logbook, rows)
        if (before := first.get(draft.uuid, {})) is not None
    )


def _drafts(logbook: Logbook, rows: Iterable[Mapping[str, Any]]) -> tuple[Draft, ...]:
    found = list(rows)
    values: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for value in logbook.query(
        "SELECT * FROM draft_values WHERE draft_id IN (SELECT value FROM json_each(?))"
        " ORDER BY draft_id, position",
        [json.dumps([row["id"] for row in found])],
    ):
        values[value["draft_id"]].append(value)
    return tuple(
        Draft(
            row["uuid"],
            row["recording"],
            row["version"],
            row["state"],
            entry_of(row, values[row["id"]]),
            row["parent"],
        )
        for row in found
    )


def _insert(logbook: Logbook, draft: Draft, recording_id: int, at: datetime) -> None:
    row_id = (
        logbook["drafts"]
        .insert(_draft_columns(draft, at) | {"uuid": draft.uuid, "recording_id": recording_id})
        .last_pk
    )
    _insert_values(logbook, draft.entry, row_id)


def _save(logbook: Logbook, step: Step, change: Change) -> None:
    draft = change.after
    if change.before is None:
        row = logbook.execute(
            "SELECT id FROM recordings WHERE uuid = ?", [draft.recording]
        ).fetchone()
        if row is None:
            raise InputError(f"There is no recording {draft.recording} in this logbook.")
        _insert(logbook, draft, row[0], step.at)
    else:
        row_id = logbook.execute("SELECT id FROM drafts WHERE uuid = ?", [draft.uuid]).fetchone()[0]
        logbook["drafts"].update(row_id, _draft_columns(draft, step.at))
        logbook.execute("DELETE FROM draft_values WHERE draft_id = ?", [row_id])
        _insert_values(logbook, draft.entry, row_id)
    hive_id = remove_entry(logbook, draft.uuid)
    if draft.state == "confirmed":
        stays = change.before is not None and change.before.entry.hive == draft.entry.hive
        keep_entry(
            logbook,
            draft,
            step.at,
            same=hive_id if stays else None,
            again=step.decision == "undo",
        )


def _draft_columns(draft: Draft, at: datetime) -> dict[str, Any]:
    return entry_columns(draft.entry) | {
        "parent": draft.parent,
        "version": draft.version,
        "state": draft.state,
        "changed_at": utc_text(at),
    }


def _insert_values(logbook: Logbook, entry: Entry, row_id: int) -> None:
    logbook["draft_values"].insert_all(value_columns(entry, "draft_id", row_id))


def _note(logbook: Logbook, step: Step, change: Change) -> None:
    logbook["history"].insert(
        {
            "uuid": str(uuid.uuid4()),
            "step": step.uuid,
            "at": utc_text(step.at),
            "decision": step.decision,
            "undoes": step.undoes,
            "draft": change.after.uuid,
            "before": _json(change.before) if change.before else None,
            "after": _json(change.after),
        }
    )


def _step(rows: Sequence[Mapping[str, Any]]) -> Step:
    first = rows[0]
    return Step(
        uuid=first["step"],
        at=local_moment(first["at"], 0),
        decision=first["decision"],
        changes=tuple(
            Change(
                draft_from_json(json.loads(row["before"])) if row["before"] else None,
                draft_from_json(json.loads(row["after"])),
            )
            for row in rows
        ),
        undoes=first["undoes"],
    )


def _json(draft: Draft) -> str:
    return json.dumps(draft_to_json(draft), ensure_ascii=False)
