"""Two logbooks made on two machines into one, by uuid, without doubling and without loss."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fieldvoice.logbook.backup import check
from fieldvoice.logbook.claims import claim
from fieldvoice.logbook.opening import (
    Logbook,
    file_of,
    open_logbook,
    saying_what_is_wrong,
    writing,
)
from fieldvoice.logbook.recordings import still_growing

_PLAIN = ("label_records", "medicine_purchases", "medicine_notes", "due_decisions", "respellings")
_SAME = ("hive", "kind", "action", "item", "status", "quote")


@dataclass(slots=True)
class Merged:
    """What a merge did."""

    hives: int = 0
    recordings: int = 0
    rows: int = 0  # rows of the log
    newer: int = 0  # drafts of ours that the other logbook had decided on later
    conflicts: int = 0  # drafts changed on both sides; ours stay
    unfinished: int = 0  # recordings that are still being made there; left out
    to_review: int = 0  # rows of a recording that both heard, put up for review here


@dataclass(slots=True)
class _Maps:
    """The other logbook's ids in ours; `twice`: recordings heard on both machines."""

    yards: dict[int, int]
    hives: dict[int, int]
    recordings: dict[int, int]
    fresh: set[int]
    twice: set[int]


def merge(logbook: Logbook, other: Path) -> Merged:
    """Take in what another logbook has and this one has not; the other stays as it is.

    A draft both have keeps the later decision. Of a recording that both machines heard
    for themselves, equal rows are the same row, and the other's confirmed rows that
    differ become drafts here. What is still being recorded there is left for the next
    merge. All or nothing.

    Raises:
        LogbookError: the other is no logbook, or newer than this program.
    """
    check(other)
    done = Merged()
    with _copy_of(other, file_of(logbook)) as copy:
        logbook.conn.execute("ATTACH ? AS other", [str(copy)])
        try:
            with writing(logbook):
                maps = _Maps({}, {}, {}, set(), set())
                _register(logbook, maps, done)
                _recordings(logbook, maps, done)
                _drafts(logbook, maps, done)
                _rest(logbook)
        finally:
            logbook.conn.execute("DETACH other")
    return done


@contextlib.contextmanager
def _copy_of(other: Path, logbook: Path) -> Iterator[Path]:
    """A copy at this program's schema, beside ours; the original is only read.

    What a merge that was killed has left there goes first.
    """
    folder = logbook.parent / f".{logbook.name}-merge"
    with claim(logbook, "merge", wait=True):
        shutil.rmtree(folder, ignore_errors=True)
        try:
            folder.mkdir()
            yield _copied(other, folder / "other.db")
        finally:
            shutil.rmtree(folder, ignore_errors=True)


def _copied(other: Path, copy: Path) -> Path:
    with saying_what_is_wrong(other):
        source = sqlite3.connect(f"{other.resolve().as_uri()}?mode=ro", uri=True)
        try:
            source.execute("VACUUM INTO ?", [str(copy)])
        finally:
            source.close()
    check(copy, ours=True)
    with open_logbook(copy):
        pass
    return copy


def _rows(logbook: Logbook, sql: str, *values: object) -> list[dict[str, Any]]:
    return list(logbook.query(sql, list(values)))


def _insert(logbook: Logbook, table: str, row: Mapping[str, Any], **changes: Any) -> int:
    fields = {k: v for k, v in {**row, **changes}.items() if k != "id"}
    names = ", ".join(fields)
    marks = ", ".join("?" for _ in fields)
    return int(
        logbook.conn.execute(
            f"INSERT INTO main.{table} ({names}) VALUES ({marks})", list(fields.values())
        ).lastrowid
    )


def _id(logbook: Logbook, sql: str, *values: object) -> int | None:
    row = logbook.conn.execute(sql, values).fetchone()
    return int(row[0]) if row else None


def _register(logbook: Logbook, maps: _Maps, done: Merged) -> None:
    for yard in _rows(logbook, "SELECT * FROM other.yards ORDER BY id"):
        ours = _id(logbook, "SELECT id FROM main.yards WHERE uuid = ?", yard["uuid"]) or _id(
            logbook, "SELECT id FROM main.yards WHERE name = ?", yard["name"]
        )
        maps.yards[yard["id"]] = ours or _insert(logbook, "yards", yard)
    for hive in _rows(logbook, "SELECT * FROM other.hives ORDER BY id"):
        yard_id = maps.yards[hive["yard_id"]]
        ours = _id(logbook, "SELECT id FROM main.hives WHERE uuid = ?", hive["uuid"])
        if ours is None and hive["retired_at"] is None:
            ours = _id(
                logbook,
                "SELECT id FROM main.hives WHERE yard_id = ? AND label = ? AND retired_at IS NULL",
                yard_id, hive["label"],
            )  # fmt: skip
        if ours is None:
            ours = _insert(logbook, "hives", hive, yard_id=yard_id)
            done.hives += 1
        maps.hives[hive["id"]] = ours
    for alias in _rows(logbook, "SELECT * FROM other.aliases"):
        hive_id = maps.hives[alias["hive_id"]]
        if not _id(
            logbook, "SELECT id FROM main.aliases WHERE uuid = ? OR (hive_id = ? AND alias = ?)",
            alias["uuid"], hive_id, alias["alias"],
        ):  # fmt: skip
            _insert(logbook, "aliases", alias, hive_id=hive_id)


def _recordings(logbook: Logbook, maps: _Maps, done: Merged) -> None:
    for recording in _rows(logbook, "SELECT * FROM other.recordings ORDER BY id"):
        theirs = recording["id"]
        ours = _id(logbook, "SELECT id FROM main.recordings WHERE uuid = ?", recording["uuid"])
        if ours is None:
            ours = _id(
                logbook, "SELECT id FROM main.recordings WHERE sha256 = ?", recording["sha256"]
            )
            if ours is not None:
                maps.twice.add(theirs)
        if ours is None and still_growing(recording["sha256"], recording["path"]):
            done.unfinished += 1  # its rows are still made anew; nothing would tell them here
            continue
        if ours is None:
            yard_id = maps.yards[recording["yard_id"]]
            ours = _insert(logbook, "recordings", recording, yard_id=yard_id)
            maps.fresh.add(theirs)
            done.recordings += 1
            for table in ("words", "unheard", "waveforms"):
                for row in _rows(
                    logbook, f"SELECT * FROM other.{table} WHERE recording_id = ?", theirs
                ):
                    _insert(logbook, table, row, recording_id=ours)
        maps.recordings[theirs] = ours


def _drafts(logbook: Logbook, maps: _Maps, done: Merged) -> None:
    for draft in _rows(logbook, "SELECT * FROM other.drafts ORDER BY id"):
        recording_id = maps.recordings.get(draft["recording_id"])
        if recording_id is None:
            continue
        ours = _rows(logbook, "SELECT * FROM main.drafts WHERE uuid = ?", draft["uuid"])
        if ours:
            _known_draft(logbook, maps, ours[0], draft, done)
        elif draft["recording_id"] not in maps.twice:
            _take(logbook, maps, draft, recording_id, done)
        elif draft["state"] == "confirmed" and not _equal_row(logbook, draft, recording_id):
            flags = '["merged"]'
            new = _insert(
                logbook, "drafts", draft, recording_id=recording_id, state="waiting", flags=flags
            )
            _values(logbook, "draft", draft["id"], new)
            done.to_review += 1


def _known_draft(
    logbook: Logbook, maps: _Maps, ours: Mapping[str, Any], draft: Mapping[str, Any], done: Merged
) -> None:
    if draft["version"] > ours["version"]:
        logbook.execute("DELETE FROM main.entries WHERE uuid = ?", [draft["uuid"]])
        logbook.execute("DELETE FROM main.draft_values WHERE draft_id = ?", [ours["id"]])
        fields = {k: v for k, v in draft.items() if k not in ("id", "uuid", "recording_id")}
        sets = ", ".join(f"{name} = ?" for name in fields)
        logbook.execute(
            f"UPDATE main.drafts SET {sets} WHERE id = ?", [*fields.values(), ours["id"]]
        )
        _values(logbook, "draft", draft["id"], ours["id"])
        _entry(logbook, maps, draft["uuid"], ours["recording_id"], done)
        done.newer += 1
    elif draft["version"] == ours["version"]:
        changed = any(draft[k] != ours[k] for k in ours if k not in ("id", "recording_id"))
        done.conflicts += changed


def _take(
    logbook: Logbook, maps: _Maps, draft: Mapping[str, Any], recording_id: int, done: Merged
) -> None:
    new = _insert(logbook, "drafts", draft, recording_id=recording_id)
    _values(logbook, "draft", draft["id"], new)
    _entry(logbook, maps, draft["uuid"], recording_id, done)


def _entry(logbook: Logbook, maps: _Maps, uuid: str, recording_id: int, done: Merged) -> None:
    for entry in _rows(logbook, "SELECT * FROM other.entries WHERE uuid = ?", uuid):
        hive_id = maps.hives.get(entry["hive_id"]) if entry["hive_id"] else None
        new = _insert(
            logbook, "entries", entry, recording_id=recording_id, hive_id=hive_id,
            yard_id=maps.yards[entry["yard_id"]],
        )  # fmt: skip
        _values(logbook, "entry", entry["id"], new)
        done.rows += 1


def _values(logbook: Logbook, owner: str, theirs: int, ours: int) -> None:
    table = f"{owner}_values"
    for row in _rows(logbook, f"SELECT * FROM other.{table} WHERE {owner}_id = ?", theirs):
        _insert(logbook, table, row, **{f"{owner}_id": ours})


def _equal_row(logbook: Logbook, draft: Mapping[str, Any], recording_id: int) -> bool:
    """Whether we have a draft of that recording that says the same."""
    tests = " AND ".join(f"{name} IS ?" for name in _SAME)
    return bool(
        _id(
            logbook, f"SELECT id FROM main.drafts WHERE recording_id = ? AND {tests}",
            recording_id, *(draft[name] for name in _SAME),
        )
    )  # fmt: skip


def _rest(logbook: Logbook) -> None:
    """History of what was taken, and what the keeper typed in."""
    for row in _rows(
        logbook,
        "SELECT * FROM other.history WHERE uuid NOT IN (SELECT uuid FROM main.history)"
        " AND draft IN (SELECT uuid FROM main.drafts) ORDER BY id",
    ):
        _insert(logbook, "history", row)
    for table in _PLAIN:
        for row in _rows(
            logbook,
            f"SELECT * FROM other.{table} WHERE uuid NOT IN (SELECT uuid FROM main.{table})"
            " ORDER BY id",
        ):
            with contextlib.suppress(sqlite3.IntegrityError):  # the same, typed in on both
                _insert(logbook, table, row)
