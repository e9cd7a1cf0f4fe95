"""A row as one sentence to be said back: "hive 7, syrup, 2 quarts, 2 to 1"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from fieldvoice.plain import hive_name, value_text, when_text
from fieldvoice.types import Entry

NOTHING = "nothing yet"
_SAID = {"absent": "none", "planned": "to do", "skipped": "not done", "past": "before"}


def rows_aloud(rows: Sequence[Entry]) -> str:
    """What was said last, with all hives it was said of.

    >>> from fieldvoice.types import Value
    >>> given = (Value("amount", 2, 2, "quart"), Value("ratio", 1, 1, "sugar:water"))
    >>> rows_aloud([Entry("7", "feed", "give", "syrup", "done", given)])
    'hive 7, syrup, 2 quarts, 1 to 1'
    >>> rows_aloud([])
    'nothing yet'
    """
    timed = [row for row in rows if row.end is not None] or list(rows)
    if not timed:
        return NOTHING
    last = max(timed, key=lambda row: (row.end or 0.0, row.start or 0.0))
    same = [
        row for row in timed if (row.start, row.end, row.item) == (last.start, last.end, last.item)
    ]
    parts = [" and ".join(dict.fromkeys(hive_name(row.hive) for row in same)), last.item]
    parts += [re.sub(r"(\d):(\d)", r"\1 to \2", value_text(value)) for value in last.values]
    parts += [_SAID[last.status]] if last.status in _SAID else []
    parts += [when_text(last.when)] if last.when else []
    return ", ".join(part for part in parts if part)
