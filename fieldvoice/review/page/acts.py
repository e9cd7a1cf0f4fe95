"""What the page can do to rows: each act is one decision, kept before it is answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fieldvoice.errors import InputError
from fieldvoice.logbook.drafts import get_drafts, save_step, steps
from fieldvoice.logbook.opening import Logbook, writing
from fieldvoice.logbook.recordings import get_recording, looked_at_unheard
from fieldvoice.logbook.register import read_register
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.review import decisions
from fieldvoice.review.fields import read_hive
from fieldvoice.review.page.bench import Bench
from fieldvoice.review.page.nicknames import note_nickname
from fieldvoice.review.page.places import place_of
from fieldvoice.review.page.typed import read_entry
from fieldvoice.review.queue import unflagged
from fieldvoice.review.vocabulary import guess
from fieldvoice.types import Draft, Entry, Recording, Step

_MOST_COPIES = 20


class NewHive(InputError):
    """A row names a hive that the register does not have."""

    def __init__(self, label: str, yard: str) -> None:
        super().__init__(f"Hive {label} is not in the register of {yard}.")
        self.label = label


class Unreadable(InputError):
    """Fields that were typed cannot be read."""

    def __init__(self, problems: Mapping[str, str]) -> None:
        super().__init__(" ".join(problems.values()))
        self.problems = dict(problems)


@dataclass(frozen=True, slots=True)
class Asked:
    """One request of the page: the rows as they were seen, and what else was said."""

    bench: Bench
    logbook: Logbook
    recording: Recording
    drafts: Sequence[Draft]
    more: Mapping[str, Any]

    def keep(self, step: Step) -> Step:
        """Keep a decision."""
        save_step(self.logbook, step)
        return step


@dataclass(frozen=True, slots=True)
class Told:
    """What came of it: a sentence, and the rows that changed."""

    said: str
    changed: Sequence[str]  # uuids
    regroup: bool = True  # rows may now stand elsewhere, or be new or gone


def act(bench: Bench, logbook: Logbook, recording_id: str, asked: Mapping[str, Any]) -> Told:
    """Do what the page asks for.

    Raises:
        StaleError: a row is no longer as the page showed it.
        NewHive: a hive is not in the register, and it was not asked to add it.
        InputError: it cannot be done.
    """
    name = asked.get("act")
    if not isinstance(name, str) or name not in ACTS:
        raise InputError(f"There is no act {name!r}.")
    recording = get_recording(logbook, recording_id)
    with writing(logbook):  # a new hive, an edit and its confirmation: all of it or nothing
        drafts = _seen(logbook, recording_id, asked.get("rows") or [])
        return ACTS[name](Asked(bench, logbook, recording, drafts, asked))


def _seen(logbook: Logbook, recording_id: str, rows: Any) -> tuple[Draft, ...]:
    """The drafts of the request, each still as the page showed it."""
    try:
        versions = {str(uuid): int(version) for uuid, version in rows}
    except (TypeError, ValueError, OverflowError) as error:
        raise InputError("The rows of a request are pairs of id and version.") from error
    found = get_drafts(logbook, list(versions))
    for uuid, version in versions.items():
        if uuid not in found or found[uuid].recording != recording_id:
            raise InputError("That row is not of this recording; load the page again.")
        decisions.check_fresh(found[uuid], version)
    return tuple(found[uuid] for uuid in versions)


def _rows(step: Step) -> list[str]:
    return [change.after.uuid for change in step.changes]


def _count(number: int) -> str:
    return "1 row" if number == 1 else f"{number} rows"


def _need_hives(asked: Asked, entries: Sequence[Entry]) -> None:
    """Every hive is in the register, or is put there because the keeper said so."""
    register = read_register(asked.logbook, asked.recording.yard)
    known = {name.lower() for name in (*register.labels, *register.aliases)}
    for label in dict.fromkeys(entry.hive for entry in entries):
        if label in (None, "all") or str(label).lower() in known:
            continue
        if not asked.more.get("add_hive"):
            raise NewHive(str(label), asked.recording.yard)
        add_hive(asked.logbook, str(label), asked.recording.yard, asked.bench.clock())


def _confirm(asked: Asked) -> Told:
    drafts = asked.drafts
    if asked.more.get("unflagged"):
        plain = unflagged(drafts, read_register(asked.logbook, asked.recording.yard))
        drafts = tuple(draft for draft in plain if draft.state == "waiting")
        if not drafts:
            raise InputError("There is no row without a doubt left here.")
    _need_hives(asked, [draft.entry for draft in drafts])
    step = asked.keep(decisions.confirm(drafts, asked.bench.clock()))
    return Told(f"{_count(len(drafts))} confirmed.", _rows(step), regroup=False)


def _reject(asked: Asked) -> Told:
    step = asked.keep(decisions.reject(asked.drafts, asked.bench.clock()))
    return Told(f"{_count(len(asked.drafts))} rejected.", _rows(step), regroup=False)


def _edit(asked: Asked) -> Told:
    (draft,) = _one(asked)
    entry = _typed(asked, draft.entry)
    return _kept_and_confirmed(asked, draft, entry, "Changed")


def _typed(asked: Asked, entry: Entry) -> Entry:
    fields = asked.more.get("fields")
    if not isinstance(fields, dict):
        raise InputError("There are no fields in the request.")
    day = asked.recording.recorded.at.date()
    changed, problems = read_entry(entry, fields, day, asked.bench.days)
    if problems:
        raise Unreadable(problems)
    return changed


def _kept_and_confirmed(asked: Asked, draft: Draft, entry: Entry, what: str) -> Told:
    confirm = bool(asked.more.get("confirm")) and draft.state == "waiting"
    if confirm or draft.state == "confirmed":
        _need_hives(asked, [entry])
    moved = entry.hive != draft.entry.hive
    if entry != draft.entry:
        (change,) = asked.keep(decisions.edit(draft, entry, asked.bench.clock())).changes
        draft = change.after
    if confirm:
        asked.keep(decisions.confirm([draft], asked.bench.clock()))
        what += " and confirmed"
    return Told(f"{what}.", [draft.uuid], regroup=moved)


def _assign(asked: Asked) -> Told:
    hive = read_hive(str(asked.more.get("hive", "")))
    entries = [decisions.with_hive(draft.entry, hive) for draft in asked.drafts]
    _need_hives(asked, entries)
    step = asked.keep(decisions.assign(asked.drafts, hive, asked.bench.clock()))
    nickname = note_nickname(
        asked.logbook, asked.drafts, hive, asked.recording, asked.bench.clock()
    )
    learnt = f' From now on "{nickname}" is hive {hive}.' if nickname else ""
    uuids = _rows(step)
    also = ""
    if asked.more.get("confirm"):
        waiting = [change.after for change in step.changes if change.after.state == "waiting"]
        if waiting:
            asked.keep(decisions.confirm(waiting, asked.bench.clock()))
            also = " and confirmed"
    where = f"hive {hive}" if hive not in (None, "all") else "all hives" if hive else "the yard"
    in_place = bool(asked.more.get("in_place"))
    return Told(
        f"{_count(len(uuids))} given to {where}{also}.{learnt}", uuids, regroup=not in_place
    )


def _split(asked: Asked) -> Told:
    (draft,) = _one(asked)
    hives, copies = asked.more.get("hives"), asked.more.get("copies")
    if isinstance(copies, int) and not isinstance(copies, bool):
        entries = [draft.entry] * min(copies, _MOST_COPIES)
    elif isinstance(hives, list):
        entries = [decisions.with_hive(draft.entry, read_hive(str(label))) for label in hives]
    else:
        raise InputError("Say which hives the rows are for, or how many there are.")
    step = asked.keep(decisions.split(draft, entries, asked.bench.clock()))
    return Told(f"Split into {len(entries)} rows.", _rows(step))


def _merge(asked: Asked) -> Told:
    step = asked.keep(decisions.merge(asked.drafts, asked.bench.clock()))
    return Told(f"{_count(len(asked.drafts))} merged into one.", _rows(step))


def _write(asked: Asked) -> Told:
    entry = _typed(asked, blank(asked.more))
    if entry.start is None:
        place = place_of(entry.quote, asked.bench.transcript(asked.recording.uuid))
        if place is not None:
            entry = replace(entry, start=place.start, end=place.end)
    if asked.more.get("confirm"):
        _need_hives(asked, [entry])
    step = decisions.write(asked.recording.uuid, entry, asked.bench.clock())
    (change,) = asked.keep(step).changes
    if asked.more.get("confirm"):
        asked.keep(decisions.confirm([change.after], asked.bench.clock()))
    return Told("Row added.", [change.after.uuid])


def blank(more: Mapping[str, Any]) -> Entry:
    """A row to be filled in, on the words it comes from."""
    words = str(more.get("words") or "")
    kind, action, item = guess(words)
    start, end = (
        float(at) if isinstance(at, int | float) else None
        for at in (more.get("start"), more.get("end"))
    )
    hive = str(more.get("hive") or "")
    return Entry(
        read_hive(hive), kind, action, item, "seen" if action == "see" else "done",
        quote=words, start=start, end=end, confidence=1.0,
    )  # fmt: skip


def _undo(asked: Asked) -> Told:
    wanted = asked.more.get("step")
    known = steps(asked.logbook, asked.recording.uuid)
    step = (
        next((step for step in known if step.uuid == wanted), None)
        if wanted
        else decisions.next_to_undo(known)
    )
    if step is None:
        raise InputError("There is nothing to undo.")
    uuids = _rows(step)
    now = get_drafts(asked.logbook, uuids)
    asked.keep(decisions.undo(step, now, asked.bench.clock()))
    return Told(f"Undone: {step.decision} of {_count(len(uuids))}.", uuids)


def _looked(asked: Asked) -> Told:
    looked_at_unheard(asked.logbook, asked.recording.uuid, asked.bench.clock())
    return Told("Noted: you have listened to the speech without words.", ())


def _one(asked: Asked) -> tuple[Draft]:
    if len(asked.drafts) != 1:
        raise InputError("This is done to one row at a time.")
    return (asked.drafts[0],)


ACTS: dict[str, Callable[[Asked], Told]] = {
    "confirm": _confirm,
    "reject": _reject,
    "edit": _edit,
    "assign": _assign,
    "split": _split,
    "merge": _merge,
    "write": _write,
    "undo": _undo,
    "looked": _looked,
}
