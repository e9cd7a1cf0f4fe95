"""An entry as columns and back; drafts as the history keeps them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from fieldvoice.types import Because, Draft, Entry, Json, Value, When
from fieldvoice.wire import entry_from_json, entry_to_json


def entry_columns(entry: Entry) -> Json:
    """All of an entry but its values, as the columns that drafts and entries share."""
    return {
        "hive": entry.hive,
        "kind": entry.kind,
        "action": entry.action,
        "item": entry.item,
        "status": entry.status,
        "when_from": _iso(entry.when.from_ if entry.when else None),
        "when_to": _iso(entry.when.to if entry.when else None),
        "details": _text(dict(entry.details)),
        "quote": entry.quote,
        "start_s": entry.start,
        "end_s": entry.end,
        "confidence": entry.confidence,
        "flags": _text(list(entry.flags)),
        "because": _text([[b.field, b.words, b.rule, b.score] for b in entry.because]),
    }


def value_columns(entry: Entry, owner: str, owner_id: int) -> list[Json]:
    """The entry's values as rows of `draft_values` or `entry_values`."""
    return [
        {
            owner: owner_id,
            "position": position,
            "role": v.role,
            "lo": v.lo,
            "hi": v.hi,
            "unit": v.unit,
            "approx": int(v.approx),
            "said": v.said,
        }
        for position, v in enumerate(entry.values)
    ]


def entry_of(row: Mapping[str, Any], values: Iterable[Mapping[str, Any]]) -> Entry:
    """The entry of a row of `drafts` or `entries` and its values in order."""
    return Entry(
        hive=row["hive"],
        kind=row["kind"],
        action=row["action"],
        item=row["item"],
        status=row["status"],
        values=tuple(
            Value(v["role"], v["lo"], v["hi"], v["unit"], bool(v["approx"]), v["said"])
            for v in values
        ),
        when=When(_day(row["when_from"]), _day(row["when_to"]))
        if row["when_from"] or row["when_to"]
        else None,
        details=json.loads(row["details"]),
        quote=row["quote"],
        start=row["start_s"],
        end=row["end_s"],
        confidence=row["confidence"],
        flags=tuple(json.loads(row["flags"])),
        because=tuple(Because(*b) for b in json.loads(row["because"])),
    )


def draft_to_json(draft: Draft) -> Json:
    """A draft with all that is known of it, as the history keeps it."""
    return {
        "uuid": draft.uuid,
        "recording": draft.recording,
        "version": draft.version,
        "state": draft.state,
        "parent": draft.parent,
        "entry": entry_to_json(draft.entry, explain=True) | {"confidence": draft.entry.confidence},
    }


def draft_from_json(raw: Mapping[str, Any]) -> Draft:
    """A draft back from the history."""
    return Draft(
        uuid=raw["uuid"],
        recording=raw["recording"],
        version=raw["version"],
        state=raw["state"],
        entry=entry_from_json(raw["entry"]),
        parent=raw["parent"],
    )


def _iso(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _text(raw: Any) -> str:
    return json.dumps(raw, ensure_ascii=False, separators=(",", ":"))
