"""What is still to be done: plans as they were said, and follow-ups that rows give rise to."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from fieldvoice.answers.answer import Cell
from fieldvoice.answers.ask import Ask, by_hive, matches
from fieldvoice.answers.courses import courses, same_thing
from fieldvoice.answers.own import named_entries
from fieldvoice.answers.visits import HIVE_KINDS, NOW, as_entry, is_opening
from fieldvoice.logbook.decided import Decided, decisions
from fieldvoice.logbook.register import Hive
from fieldvoice.plain import entry_line
from fieldvoice.types import ACTIONS, Fact

_NAMES = uuid.UUID("5b9e9a1c-1f2a-5d3e-8b44-0f6a3d1c7e21")
LAPSE = 30
"""Days after which a proposal that nobody took up is no more."""
_FOLLOW_DAYS = 200
"""Rows older than this give rise to nothing any more."""


@dataclass(frozen=True, slots=True)
class Due:
    """One thing to do."""

    key: str  # the plan's row, or rule, row and hive
    kind: str  # "plan", "follow-up", "treatment", "supply"
    hive: str | None
    yard: str
    first: date | None  # None: no day was said
    last: date | None
    what: str
    why: str  # its condition, or what it follows from
    reason: str  # of a rule; empty for what was planned
    source: str  # words of the plan, or of the rule
    row: Fact
    state: str = "planned"  # "planned", "proposed", "accepted", "changed"
    maybe: Fact | None = None  # a later row that looks as if it did it
    progress: str = ""  # of a plan for all hives: how many have such a row

    @property
    def id(self) -> str:
        """A short name to type."""
        return uuid.uuid5(_NAMES, self.key).hex[:6]

    def when(self, today: date) -> str:
        """Overdue, now, coming, or without a day."""
        if self.last is not None and self.last < today:
            return f"overdue {(today - self.last).days} days"
        if self.first is None and self.last is None:
            return "no day said"
        if self.first is not None and self.first > today:
            return f"from {self.first}"
        return f"now, by {self.last}" if self.last else "now"

    def cells(self, today: date) -> tuple[Cell, ...]:
        """The line of `due`."""
        done = f"done by the row of {self.maybe.day}?" if self.maybe else self.progress
        return (
            self.id, self.hive or "yard", self.yard, self.when(today), self.what,
            f"{self.state}, {done}" if done else self.state,
            "; ".join(
                part for part in (self.why, "" if self.reason else self.source) if part
            ),
        )  # fmt: skip


DUE_COLUMNS = ("id", "hive", "yard", "when", "what", "state", "because")


@dataclass(frozen=True, slots=True)
class Open:
    """Everything that is not done, dropped or answered, soonest first."""

    dues: tuple[Due, ...]
    rows: tuple[Fact, ...]  # behind it
    lapsed: int  # proposals nobody took up in time, left out
    own: Mapping[int, Sequence[Fact]]  # what was done and seen, by the hive's id


def open_dues(ask: Ask) -> Open:
    """What is open on the day asked for."""
    known = ask.hives()
    decided = decisions(ask.logbook)
    rows = ask.read(*HIVE_KINDS, statuses=NOW)
    planned = ask.read(statuses=["planned"])
    skipped = ask.read(statuses=["skipped"])
    own = by_hive(rows, known)
    found = [_plan(row, own, known, skipped) for row in planned if _in_scope(row, ask, known)]
    rules = named_entries(ask, "followups", "rule", ("rows", "days", "do"))
    found += _followups(
        own, known, tuple(rules.values()), ask.last() - timedelta(days=_FOLLOW_DAYS)
    )
    found += _treatments(ask, known)
    kept = [due for one in found if (due := _decided(one, decided.get(one.key))) is not None]
    fresh = [due for due in kept if not _lapsed(due, ask.today)]
    fresh.sort(key=lambda due: (due.last or due.first or date.max, due.hive or ""))
    used = {due.row.uuid: due.row for due in fresh}
    return Open(tuple(fresh), tuple(used.values()), len(kept) - len(fresh), own)


def _lapsed(due: Due, today: date) -> bool:
    over = due.last is not None and (today - due.last).days > LAPSE
    return due.kind == "follow-up" and due.state == "proposed" and over


def _in_scope(row: Fact, ask: Ask, known: Sequence[Hive]) -> bool:
    """A plan of a retired hive is no plan; of a yard or all hives it is."""
    return row.hive_id is None or any(hive.id == row.hive_id for hive in known)


def _plan(
    row: Fact, own: Mapping[int, Sequence[Fact]], known: Sequence[Hive], skipped: Sequence[Fact]
) -> Due:
    condition = row.details.get("if")
    reason = row.details.get("reason")
    why = "; ".join(part for part in (f"if {condition}" if condition else "", reason or "") if part)
    maybe, progress = _done_by(row, own, known)
    if maybe is None:
        later = [
            r for r in skipped if r.day > row.day and r.hive == row.hive and _same_work(row, r)
        ]
        maybe = later[-1] if later else None
    return Due(
        row.uuid, "supply" if row.kind == "supply" else "plan", row.hive, row.yard,
        row.when.from_ if row.when else None, row.when.to if row.when else None,
        entry_line(replace(as_entry(row), status="", when=None, details=_shown(row))),
        why, "", f'"{row.quote}"', row, maybe=maybe, progress=progress,
    )  # fmt: skip


def _shown(row: Fact) -> dict[str, str]:
    return {k: v for k, v in row.details.items() if k not in ("if", "reason")}


def _done_by(
    plan: Fact, own: Mapping[int, Sequence[Fact]], known: Sequence[Hive]
) -> tuple[Fact | None, str]:
    """A later row that did what was planned; for a plan of all hives, how many have one."""
    if plan.hive == "all":
        here = [hive for hive in known if hive.yard == plan.yard]
        did = [_answering(plan, own.get(hive.id, ())) for hive in here]
        count = sum(row is not None for row in did)
        whole = did[-1] if here and count == len(here) else None
        return whole, f"{count} of {len(here)} hives have such a row" if count else ""
    return (_answering(plan, own.get(plan.hive_id, ())) if plan.hive_id else None), ""


def _answering(plan: Fact, rows: Sequence[Fact]) -> Fact | None:
    earliest = plan.when.from_ if plan.when and plan.when.from_ else plan.day
    for row in rows:
        if row.day <= plan.day or row.day < earliest - timedelta(days=3):
            continue
        if plan.kind == "note" and plan.action == "inspect" and is_opening(row):
            return row
        if _same_work(plan, row) and row.status in ("done", "seen", "absent"):
            return row
    return None


def _same_work(plan: Fact, row: Fact) -> bool:
    if plan.kind != row.kind or not same_thing(plan.item, row.item):
        return False
    alike = {"treat": "give", "add": "give", "inspect": "see"}
    return alike.get(plan.action, plan.action) == alike.get(row.action, row.action)


def _followups(
    own: Mapping[int, Sequence[Fact]],
    known: Sequence[Hive],
    rules: Sequence[dict[str, Any]],
    since: date,
) -> list[Due]:
    labels = {(hive.yard, hive.label): hive for hive in known}
    starts: dict[tuple[str, str], list[dict[str, Any]]] = defaultdict(list)
    for rule in rules:
        for kind in rule["rows"].get("kind", HIVE_KINDS):
            for action in rule["rows"].get("action", ACTIONS):
                starts[kind, action].append(rule)
    found: dict[tuple[str, int], Due] = {}
    for hive in known:
        for row in own[hive.id]:
            for rule in starts.get((row.kind, row.action), ()):
                if row.day < since or not _starts(rule, row):
                    continue
                for about in _about(rule, row, hive, labels):
                    if _answered(rule, row.day, own[about.id]):
                        found.pop((rule["name"], about.id), None)
                    else:
                        found[rule["name"], about.id] = _followup(rule, row, about)
    return list(found.values())


def _starts(rule: dict[str, Any], row: Fact) -> bool:
    return matches(row, rule["rows"]) and row.day.month in rule.get("months", range(1, 13))


def _answered(rule: dict[str, Any], day: date, rows: Sequence[Fact]) -> bool:
    """Whether a row after that day closes it; the newest rows are asked first."""
    for row in reversed(rows):
        if row.day <= day:
            return False
        if any(matches(row, way) for way in rule.get("done_by", ())):
            return True
    return False


def _about(
    rule: dict[str, Any], row: Fact, hive: Hive, labels: Mapping[tuple[str, str], Hive]
) -> list[Hive]:
    """The hives a follow-up is for: its own, or the one that was made or joined."""
    target = row.details.get("target_hive") if rule.get("on_target") else None
    if target is None:
        return [hive]
    other = labels.get((hive.yard, target))
    if other is None:
        return [hive]
    return [other] if row.action == "combine" else [hive, other]


def _followup(rule: dict[str, Any], row: Fact, hive: Hive) -> Due:
    first, last = rule["days"]
    return Due(
        f"{rule['name']}|{row.uuid}|{hive.label}", "follow-up", hive.label, hive.yard,
        row.day + timedelta(days=first), row.day + timedelta(days=last),
        rule["do"], f"{row.action} {row.item} on {row.day}",
        rule.get("because", ""),
        rule.get("source", "common practice, no source"), row, "proposed",
    )  # fmt: skip


def _treatments(ask: Ask, known: Sequence[Hive]) -> list[Due]:
    """What is in a hive and has a label record is to come out in its window."""
    found, _ = courses(ask, known)
    return [
        Due(
            f"out|{course.start.uuid}|{course.hive.label}", "treatment", course.hive.label,
            course.hive.yard, course.window.first, course.window.last,
            f"take out the {course.start.item}",
            f"in since {course.start.on}",
            f"{course.label.days_min} to {course.label.days_max} days by the label record",
            f"label record: {course.label.product}, {course.label.source}; check the label",
            course.start, "proposed",
        )
        for course in found
        if course.open_on(ask.last()) and course.window is not None and course.label is not None
    ]  # fmt: skip


def _decided(due: Due, decided: Decided | None) -> Due | None:
    if decided is None:
        return due
    if decided.verb in ("dropped", "done"):
        return None
    if decided.verb == "changed":
        return replace(due, first=decided.first, last=decided.last, state="changed")
    return replace(due, state="accepted")
