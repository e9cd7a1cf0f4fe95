"""What was asked: which hives, which days, as of when; and reading the log for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from fieldvoice.logbook.asking import Which, facts
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.register import Hive, hives
from fieldvoice.settings import Settings
from fieldvoice.types import Fact

YEAR = 366
"""How many days back a question looks that names no other day."""


@dataclass(frozen=True, slots=True)
class Ask:
    """One question's frame. None leaves a field open; days are inclusive."""

    logbook: Logbook
    today: date
    settings: Settings = field(default_factory=Settings)
    since: date | None = None
    until: date | None = None
    yard: str | None = None
    hive: Hive | None = None

    def first(self, days: int = YEAR) -> date:
        """The first day looked at: the one asked for, or so many days before the last."""
        return self.since or self.last() - timedelta(days=days)

    def last(self) -> date:
        """The last day looked at."""
        return self.until or self.today

    def hives(self, *, retired: bool = False) -> tuple[Hive, ...]:
        """The hives asked about, in walking order."""
        if self.hive is not None:
            return (self.hive,)
        return hives(self.logbook, yard=self.yard, retired=retired)

    def place(self) -> str:
        """What was asked about, in words."""
        if self.hive is not None:
            return f"hive {self.hive.label}, {self.hive.yard}"
        return self.yard or "all yards"

    def read(
        self,
        *kinds: str,
        actions: Sequence[str] = (),
        items: Sequence[str] = (),
        statuses: Sequence[str] = (),
        days: int = YEAR,
        since: date | None = None,
        mentions: bool = False,
    ) -> tuple[Fact, ...]:
        """Rows of these kinds about what was asked, oldest first.

        Looks back to `since` if given, else to the day asked for, else `days` days.
        """
        which = Which(
            kinds, tuple(actions), tuple(items), tuple(statuses),
            since or self.first(days), self.last(),
            self.yard if self.hive is None else None, self.hive, mentions,
        )  # fmt: skip
        return facts(self.logbook, which)


def by_hive(rows: Iterable[Fact], known: Sequence[Hive]) -> dict[int, list[Fact]]:
    """Rows of each hive by the register's id, rows about all hives of a yard under each of it."""
    found: dict[int, list[Fact]] = defaultdict(list)
    yards: dict[str, list[int]] = defaultdict(list)
    for hive in known:
        yards[hive.yard].append(hive.id)
        found[hive.id] = []
    for row in rows:
        if row.hive_id is not None:
            found[row.hive_id].append(row)
        elif row.hive == "all":
            for number in yards[row.yard]:
                found[number].append(row)
    return found


def matches(row: Fact, rule: dict[str, Any]) -> bool:
    """Whether a row is one that a rule of a data file names.

    `kind`, `action`, `item`, `status` list what fits; `condition` lists words of which one
    must stand in the details or the quote; an absent key fits all.
    """
    for name in ("kind", "action", "item", "status"):
        if name in rule and getattr(row, name) not in rule[name]:
            return False
    return "condition" not in rule or says(row, tuple(rule["condition"]))


def says(row: Fact, words: tuple[str, ...]) -> bool:
    """Whether one of the words stands in what was said of the thing or in its details.

    >>> from datetime import date
    >>> row = Fact("", None, "7", "home", date(2026, 5, 1), "brood", "see", "brood pattern",
    ...     "seen", (), None, {"condition": "spotty"}, "and it's spotty")
    >>> says(row, ("spotty", "scattered")), says(row, ("spot",))
    (True, False)
    """
    text = " ".join((row.item, *row.details.values(), row.quote))
    return _any_of(words).search(text) is not None


@lru_cache(maxsize=256)
def _any_of(words: tuple[str, ...]) -> Any:
    import re

    return re.compile(rf"\b(?:{'|'.join(map(re.escape, words))})\b", re.I)
