"""A CSV or JSON file of old records as rows: fieldvoice's own export, or any table with a mapping."""

from __future__ import annotations

import csv
import io
import json
import uuid
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.logbook.importing import Written
from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES, Entry, Json, Value, When
from fieldvoice.wire import entry_from_json, read_time

FIELDS = ("day", "time", "yard", "hive", "kind", "action", "item", "status", "quote")
_NAMES = uuid.UUID("3f6a2e0e-6d57-5c1c-9a08-6f3b6a2f4c11")
_WORDS = {"kind": KINDS, "action": ACTIONS, "status": STATUSES}
_DEFAULTS = {"kind": "note", "action": "see", "item": "note", "status": "seen"}


def read_written(
    path: Path, columns: Mapping[str, str], fixed: Mapping[str, str], yard: str, at: datetime
) -> list[Written]:
    """The rows of a file.

    `columns` says which column holds which field: day, time, yard, hive, kind, action, item,
    status, quote, `value:ROLE:UNIT` for a number, `detail:NAME` for a word. `fixed` gives a
    field for all rows. An export of fieldvoice needs neither.

    Raises:
        InputError: the file cannot be read, or all that is wrong with its rows, with line numbers.
    """
    raw = list(_rows(path))
    if raw and {"id", "recording", "recorded_at"} <= set(raw[0][1]):
        return [_own(path, number, row) for number, row in raw]
    _check_mapping(columns, fixed, raw)
    found, problems = [], []
    seen: Counter[str] = Counter()
    for number, row in raw:
        # The same line is the same row, however often and wherever in the file it comes again;
        # two equal lines in one file are two rows.
        line = f"{sorted(row.items())}"
        seen[line] += 1
        try:
            found.append(_foreign(path, f"{line}|{seen[line]}", row, columns, fixed, yard, at))
        except InputError as error:
            problems.append(f"line {number}: {error}")
    if problems:
        more = f" and {len(problems) - 5} more" if len(problems) > 5 else ""
        raise InputError(
            f"{path} was not imported: {' '.join(problems[:5])}{more}. Mend it and try again."
        )
    return found


def _rows(path: Path) -> Iterator[tuple[int, dict[str, Any]]]:
    try:
        text = path.read_bytes().decode("utf-8-sig")  # line ends inside a cell stay as they are
        if path.suffix.lower() == ".json":
            rows = json.loads(text)
            if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
                raise ValueError("it is no list of rows")
            yield from enumerate(rows, 1)
            return
        reader = csv.DictReader(io.StringIO(text, newline=""))
        for row in reader:
            yield reader.line_num, {k: v or "" for k, v in row.items() if k}
    except (OSError, ValueError, csv.Error, AttributeError, RecursionError) as error:
        raise InputError(
            f"{path} cannot be read as CSV or JSON ({error}); write it as `fieldvoice export` does, "
            "or as a table with a line of column names."
        ) from error


def _own(path: Path, number: int, row: Mapping[str, Any]) -> Written:
    try:
        entry: Json = dict(row)
        if path.suffix.lower() != ".json":
            entry |= {
                "hive": row["hive"] or None,
                "values": json.loads(row["values_json"]),
                "details": json.loads(row["details"]),
                "flags": row["flags"].split(),
                "start": float(row["start"]) if row["start"] else None,
                "end": float(row["end"]) if row["end"] else None,
            }
            if row["when_from"] or row["when_to"]:
                entry["when"] = {"from": row["when_from"] or None, "to": row["when_to"] or None}
        names = [row[name] for name in ("id", "recording", "yard")]
        if not all(isinstance(name, str) and name.strip() for name in names):
            raise ValueError(f"{names} are no names")
        uuid_, recording, yard = names
        return Written(
            uuid_, recording, read_time(row["recorded_at"]), yard,
            read_time(row["confirmed_at"]), entry_from_json(entry),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError, InputError) as error:
        raise InputError(
            f"{path}, row {number}, is no exported row ({error}); mend it and try again."
        ) from error


def _check_mapping(
    columns: Mapping[str, str], fixed: Mapping[str, str], raw: list[tuple[int, dict[str, Any]]]
) -> None:
    for field in (*columns, *fixed):
        parts = field.split(":")
        known = field in FIELDS or (parts[0] == "detail" and len(parts) == 2) or (
            parts[0] == "value" and len(parts) == 3 and parts[1] in ROLES
        )  # fmt: skip
        if not known:
            raise InputError(
                f"{field!r} is no field; there are {', '.join(FIELDS)}, value:ROLE:UNIT "
                f"(roles: {', '.join(ROLES)}) and detail:NAME."
            )
    there = set(raw[0][1]) if raw else set()
    for name in columns.values():
        if raw and name not in there:
            raise InputError(f"There is no column {name!r}; there are {', '.join(sorted(there))}.")
    if "day" not in columns and "day" not in fixed:
        raise InputError("Say which column holds the day, as --column day=Date.")


def _foreign(
    path: Path, name: str, row: Mapping[str, str], columns: Mapping[str, str],
    fixed: Mapping[str, str], yard: str, at: datetime,
) -> Written:  # fmt: skip
    cell = {field: row[name].strip() for field, name in columns.items()}
    told = _DEFAULTS | dict(fixed) | {field: text for field, text in cell.items() if text}
    for field, words in _WORDS.items():
        told[field] = told[field].lower()
        if told[field] not in words:
            raise InputError(f"{field} {told[field]!r} is none of {', '.join(words)}.")
    day = _day(told.get("day", ""))
    clock = _clock(told.get("time", "12:00"))
    moment = datetime.combine(day, clock).astimezone()
    place = told.get("yard") or yard
    entry = Entry(
        told.get("hive") or None, told["kind"], told["action"], told["item"].lower(),
        told["status"], tuple(_values(told)), _when(told["status"], day),
        {field.split(":")[1]: text for field, text in told.items() if field.startswith("detail:")},
        told.get("quote", ""), None, None, 1.0,
    )  # fmt: skip
    visit = uuid.uuid5(_NAMES, f"{path.name}|{place}|{moment.isoformat()}")
    return Written(str(uuid.uuid5(_NAMES, f"{place}|{name}")), str(visit), moment, place, at, entry)


def _when(status: str, day: date) -> When | None:
    return When(day, day) if status == "past" else None


def _values(told: Mapping[str, str]) -> Iterator[Value]:
    for field, text in told.items():
        if field.startswith("value:"):
            _, role, unit = field.split(":")
            try:
                low, _, high = text.replace(",", ".").partition("-")
                yield Value(role, float(low), float(high or low), unit or None, said=text)
            except ValueError:
                raise InputError(f"{text!r} is no number for {role}.") from None


def _day(text: str) -> date:
    for shape in ("%Y-%m-%d", "%Y/%m/%d", "%d.%m.%Y"):
        try:
            return datetime.strptime(text, shape).date()  # noqa: DTZ007 - a day, no moment
        except ValueError:
            continue
    raise InputError(f"{text!r} is no day; write it as 2025-05-03 (or 2025/05/03, 03.05.2025).")


def _clock(text: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise InputError(f"{text!r} is no time; write it as 09:30.") from None
