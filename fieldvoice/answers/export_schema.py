"""The JSON Schema (draft 2020-12) of the rows that `fieldvoice export --json` writes."""

from __future__ import annotations

from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES, Json


def export_schema() -> Json:
    """The schema; the words of the closed lists are those of `fieldvoice/types.py`."""
    text: Json = {"type": "string"}
    number: Json = {"type": "number"}
    day: Json = {"type": ["string", "null"], "format": "date", "pattern": r"^\d{4}-\d\d-\d\d$"}
    moment: Json = {"type": "string", "format": "date-time"}
    maybe: Json = {"type": ["number", "null"]}
    value: Json = _object(
        {
            "role": {"enum": list(ROLES)}, "lo": number, "hi": number,
            "unit": {"type": ["string", "null"]}, "approx": {"type": "boolean"}, "said": text,
        }
    )  # fmt: skip
    row: Json = _object(
        {
            "id": {"type": "string", "format": "uuid"},
            "recorded_at": moment, "yard": {"type": "string", "minLength": 1},
            "recording": text, "confirmed_at": moment,
            "hive": {"type": ["string", "null"], "minLength": 1},
            "kind": {"enum": list(KINDS)}, "action": {"enum": list(ACTIONS)}, "item": text,
            "status": {"enum": list(STATUSES)}, "values": {"type": "array", "items": value},
            "when": _object({"from": day, "to": day}),
            "details": {"type": "object", "additionalProperties": text},
            "quote": text, "start": maybe, "end": maybe,
            "confidence": {"type": "number", "minimum": 0, "maximum": 1},
            "flags": {"type": "array", "items": text},
        },
        optional=("when",),
    )  # fmt: skip
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Rows of a fieldvoice log",
        "type": "array",
        "items": row,
    }


def _object(properties: Json, optional: tuple[str, ...] = ()) -> Json:
    return {
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": False,
    }
