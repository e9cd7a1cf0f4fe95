"""What the keeper types of medicines: label records, purchases, and what a row left unsaid."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from datetime import date, datetime

from fieldvoice.errors import InputError
from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook, writing

NOTE_FIELDS = ("product", "batch", "dose", "supplier", "reason")

_MOST_DAYS = 3650


@dataclass(frozen=True, slots=True)
class LabelRecord:
    """What stands on the label in hand, as the keeper typed it. Temperatures in Celsius."""

    product: str
    item: str  # the word the log uses: "amitraz strip", "formic acid"
    source: str  # where it was read: "label on the packet"
    ingredient: str = ""
    form: str = ""
    days_min: int | None = None  # days it stays in; None: the label names none
    days_max: int | None = None
    low_c: float | None = None
    high_c: float | None = None
    supers: str = "not said"  # "off", "allowed", "not said"
    days_before_supers: int | None = None
    withdrawal_days: int | None = None
    dated: str = ""  # date or edition of the label


@dataclass(frozen=True, slots=True)
class Purchase:
    """Medicine bought."""

    product: str
    day: date
    batch: str = ""
    quantity: str = ""
    supplier: str = ""


def add_label(logbook: Logbook, label: LabelRecord, at: datetime) -> None:
    """Keep a label record; an older one of the product stays in the file but is not used.

    Raises:
        InputError: a field has no sense.
    """
    if not label.product.strip() or not label.item.strip() or not label.source.strip():
        raise InputError("A label record needs a product, the word the log uses, and its source.")
    if (label.days_min is None) != (label.days_max is None):
        raise InputError("Give both days, as --days 42-56, or --days 7 for exactly 7.")
    if label.days_min is not None and not 0 <= label.days_min <= (label.days_max or 0):
        raise InputError(f"--days {label.days_min}-{label.days_max} runs backwards.")
    told = (label.days_max, label.days_before_supers, label.withdrawal_days)
    if any(days is not None and days > _MOST_DAYS for days in told):
        raise InputError(f"No label names more than {_MOST_DAYS} days; look at the number again.")
    with writing(logbook):
        logbook["label_records"].insert(
            asdict(label) | {"uuid": str(uuid.uuid4()), "at": utc_text(at)}
        )


def labels(logbook: Logbook) -> tuple[LabelRecord, ...]:
    """The label records in force, the newest of each product, newest first."""
    names = ", ".join(f.name for f in fields(LabelRecord))
    rows = logbook.query(
        f"SELECT {names} FROM label_records WHERE id IN"
        " (SELECT max(id) FROM label_records GROUP BY product) ORDER BY id DESC"
    )
    return tuple(LabelRecord(**row) for row in rows)


def add_purchase(logbook: Logbook, purchase: Purchase, at: datetime) -> None:
    """Keep a purchase."""
    with writing(logbook):
        logbook["medicine_purchases"].insert(
            asdict(purchase)
            | {"day": purchase.day.isoformat(), "uuid": str(uuid.uuid4()), "at": utc_text(at)}
        )


def purchases(logbook: Logbook) -> tuple[Purchase, ...]:
    """Purchases, oldest first."""
    rows = logbook.query(
        "SELECT product, day, batch, quantity, supplier FROM medicine_purchases ORDER BY day, id"
    )
    return tuple(Purchase(**(dict(row) | {"day": date.fromisoformat(row["day"])})) for row in rows)


def add_note(logbook: Logbook, entry: str, field: str, value: str, at: datetime) -> str:
    """Write down what a treatment row left unsaid; returns the row's whole uuid.

    Raises:
        InputError: no such field, or no single treatment row begins with that id.
    """
    if field not in NOTE_FIELDS:
        raise InputError(f"{field!r} is none of {', '.join(NOTE_FIELDS)}.")
    with writing(logbook):
        found = logbook.execute(
            "SELECT uuid FROM entries WHERE kind = 'treatment' AND substr(uuid, 1, ?) = ?",
            [len(entry), entry],
        ).fetchall()
        if len(found) != 1 or not entry:
            raise InputError(
                f"{len(found)} treatment rows begin with {entry!r}; take an id of "
                "`fieldvoice medicine --json`."
            )
        logbook["medicine_notes"].insert(
            {"uuid": str(uuid.uuid4()), "entry": found[0][0], "field": field, "value": value,
             "at": utc_text(at)}
        )  # fmt: skip
    return str(found[0][0])


def notes(logbook: Logbook) -> Mapping[str, Mapping[str, str]]:
    """By row, then by field: what was written down, the newest of each."""
    found: dict[str, dict[str, str]] = defaultdict(dict)
    for row in logbook.query("SELECT entry, field, value FROM medicine_notes ORDER BY id"):
        found[row["entry"]][row["field"]] = row["value"]
    return found
