"""Rows of the log as answers: visit by visit to read, as JSON, as a table to take away."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from fieldvoice.plain import value_text
from fieldvoice.types import Json, LogRow
from fieldvoice.wire import entry_to_json


@dataclass(frozen=True, slots=True)
class Visit:
    """The rows of one day at one yard, in however many recordings they were said."""

    at: datetime
    yard: str
    rows: tuple[LogRow, ...]


COLUMNS = (
    "id", "recorded_at", "yard", "hive", "kind", "action", "item", "status", "values",
    "when_from", "when_to", "details", "quote", "start", "end", "confidence", "flags",
    "values_json", "confirmed_at", "recording",
)  # fmt: skip


def visits(rows: Sequence[LogRow]) -> tuple[Visit, ...]:
    """Rows grouped by visit, in the order given; a visit begins with its first recording."""
    groups = groupby(rows, lambda row: (row.recorded_at.date(), row.yard))
    return tuple(
        Visit(min(row.recorded_at for row in visit), yard, visit)
        for (_, yard), group in groups
        if (visit := tuple(group))
    )


def row_to_json(row: LogRow) -> Json:
    """A row as the contract has it, with its visit."""
    return {
        "id": row.uuid,
        "recorded_at": row.recorded_at.isoformat(),
        "yard": row.yard,
        "recording": row.recording,
        "confirmed_at": row.confirmed_at.isoformat(),
    } | entry_to_json(row.entry)


def rows_to_csv(rows: Sequence[LogRow]) -> str:
    """The rows as CSV (RFC 4180), one line a row; values also as JSON, losing nothing."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    for row in rows:
        raw = row_to_json(row)
        when = raw.get("when") or {}
        writer.writerow(
            {name: raw.get(name) for name in COLUMNS}
            | {
                "values": "; ".join(f"{v.role} {value_text(v)}" for v in row.entry.values),
                "values_json": json.dumps(raw["values"], ensure_ascii=False),
                "when_from": when.get("from"),
                "when_to": when.get("to"),
                "details": json.dumps(raw["details"], ensure_ascii=False),
                "flags": " ".join(row.entry.flags),
            }
        )
    return out.getvalue()


def rows_to_json(rows: Sequence[LogRow]) -> str:
    """The rows as a JSON list."""
    return json.dumps([row_to_json(row) for row in rows], ensure_ascii=False, indent=1) + "\n"
