"""The medicine record: what UK and EU rules ask for of each treatment, and what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fieldvoice.answers.answer import Answer, Cell
from fieldvoice.answers.ask import Ask
from fieldvoice.answers.courses import REMINDER, Course, courses
from fieldvoice.logbook.medicines import Purchase, notes, purchases
from fieldvoice.plain import value_text

KEEP = (
    "Keep it five years, even if the colony is gone (Veterinary Medicines Regulations, UK; "
    "Regulation (EU) 2019/6, article 108). fieldvoice deletes no row."
)


def medicine(ask: Ask) -> Answer:
    """Each treatment with product, batch, dates, dose, hive, withdrawal, supplier, as they are known."""
    known = ask.hives(retired=True)
    found, rows = courses(ask, known)
    written, bought = notes(ask.logbook), purchases(ask.logbook)
    table: list[tuple[Cell, ...]] = []
    missing: list[str] = []
    for course in sorted(found, key=lambda c: (c.start.day, c.hive.id)):
        line = _line(course, written.get(course.start.uuid, {}), bought)
        lacks = [
            name for name, cell in zip(COLUMNS, line, strict=True)
            if cell is None and name in ("product", "batch", "dose", "withdrawal, days", "supplier")
        ]  # fmt: skip
        if lacks:
            missing.append(f"hive {course.hive.label}, {course.start.day}: {', '.join(lacks)}")
        table.append(line)
    stock = [
        f"Bought {p.day}: {p.product}, batch {p.batch or 'not said'}, {p.quantity or 'quantity not said'}, "
        f"from {p.supplier or 'supplier not said'}."
        for p in bought
        if ask.first() <= p.day <= ask.last()
    ]
    return Answer(
        f"Medicine record from {ask.first()} to {ask.last()}, {ask.place()}",
        COLUMNS, tuple(table), rows,
        (*stock, *([f"Missing: {'; '.join(missing)}. Write it down with `fieldvoice medicine "
                    "--note ID FIELD TEXT`."] if missing else []), KEEP, REMINDER),
    )  # fmt: skip


COLUMNS = (
    "id", "hive", "yard", "product", "batch", "from", "to", "days", "dose", "withdrawal, days",
    "supplier", "label record",
)  # fmt: skip


def _line(
    course: Course, written: Mapping[str, str], bought: Sequence[Purchase]
) -> tuple[Cell, ...]:
    start, label = course.start, course.label
    product = written.get("product") or start.details.get("product")
    product = product or (label.product if label else None)
    lots = [
        p for p in bought if product and p.product.lower() == product.lower() and p.day <= start.day
    ]
    one = lots[0] if len(lots) == 1 else None  # of several, nobody can say which it was
    dose = "; ".join(value_text(v) for v in start.values if v.role in ("amount", "count"))
    end = course.out_on()
    return (
        start.uuid[:8], course.hive.label, course.hive.yard, product,
        written.get("batch") or start.details.get("batch") or (one.batch or None if one else None),
        start.on or "day not said", end or ("still in" if course.end is None else "day not said"),
        (end - start.on).days if end and start.on else None,
        written.get("dose") or dose or start.details.get("dose"),
        label.withdrawal_days if label else None,
        written.get("supplier") or (one.supplier or None if one else None),
        f"{label.source}{f', {label.dated}' if label.dated else ''}" if label else None,
    )  # fmt: skip
