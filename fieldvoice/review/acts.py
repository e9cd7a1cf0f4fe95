"""What each key of the review in the terminal does to a draft.

An act answers True when the draft is done with, False when it is to be asked about again.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from fieldvoice.errors import InputError
from fieldvoice.plain import entry_line
from fieldvoice.review import decisions
from fieldvoice.review.desk import Session
from fieldvoice.review.fields import FIELDS, field_text, read_hive, set_field
from fieldvoice.review.queue import unflagged
from fieldvoice.types import Draft, Entry, Stretch

_MOST_COPIES = 50


def accept_unflagged(session: Session) -> int:
    """Confirm every draft without a flag in one act; returns how many."""
    ready = unflagged(session.desk.drafts(), session.desk.register())
    if ready:
        session.keep(decisions.confirm(ready, session.desk.clock()))
    session.say(f"{len(ready)} {'row' if len(ready) == 1 else 'rows'} without a flag confirmed.")
    return len(ready)


def _confirm(session: Session, draft: Draft, rest: str) -> bool:
    hive = draft.entry.hive
    if hive not in (None, "all") and not _known(session, str(hive)):
        yard = session.desk.recording(draft.recording).yard
        answer = session.ask(f"Hive {hive} is not in the register. Add it to {yard}? [y/n] ")
        if not answer.strip().lower().startswith("y"):
            session.say("  Not confirmed; give the row to another hive with h, or edit it.")
            return False
        session.desk.add_hive(str(hive), yard)
    session.keep(decisions.confirm([draft], session.desk.clock()))
    return True


def _known(session: Session, label: str) -> bool:
    register = session.desk.register()
    return label.lower() in {known.lower() for known in (*register.labels, *register.aliases)}


def _edit(session: Session, draft: Draft, rest: str) -> bool:
    entry = draft.entry
    day = session.desk.recording(draft.recording).recorded.at.date()
    if rest:
        name, _, text = rest.partition(" ")
        entry = _typed(entry, name, text, day)
    else:
        entry = _edit_fields(session, entry, day)
    if entry == draft.entry:
        return True
    decisions.check_entry(entry)
    session.keep(decisions.edit(draft, entry, session.desk.clock()))
    return True


def _edit_fields(session: Session, entry: Entry, day: date) -> Entry:
    """Ask for fields until an empty answer; a slip is told and asked again."""
    while True:
        for name in FIELDS:
            session.say(f"    {name:8} {field_text(entry, name)}")
        name = session.ask("  Which field (empty: done)? ").strip()
        if not name:
            return entry
        try:
            if name not in FIELDS:
                raise InputError(f"There is no field {name!r}; there are: {', '.join(FIELDS)}.")
            text = session.ask(f"  {name} (now {field_text(entry, name)}): ")
            changed = _typed(entry, name, text, day)
            decisions.check_entry(changed)
            entry = changed
        except InputError as error:
            session.say(f"  {error}")


def _typed(entry: Entry, name: str, text: str, day: date) -> Entry:
    changed = set_field(entry, name, text, day)
    return decisions.with_hive(changed, changed.hive) if name == "hive" else changed


def _reject(session: Session, draft: Draft, rest: str) -> bool:
    session.keep(decisions.reject([draft], session.desk.clock()))
    return True


def _split(session: Session, draft: Draft, rest: str) -> bool:
    rest = rest or session.ask("  Hives of the rows (4, 5, 6), or x2 for two copies: ").strip()
    if rest[:1] == "x" and rest[1:].isdigit():
        copies = [draft.entry] * min(int(rest[1:]), _MOST_COPIES)
    else:
        labels = [label.strip() for label in rest.split(",") if label.strip()]
        copies = [decisions.with_hive(draft.entry, read_hive(label)) for label in labels]
    session.keep(decisions.split(draft, copies, session.desk.clock()))
    return True


def _assign(session: Session, draft: Draft, rest: str) -> bool:
    label = rest or session.ask("  Which hive (all: every hive, -: the yard itself)? ").strip()
    if not label:
        return False
    session.keep(decisions.assign([draft], read_hive(label), session.desk.clock()))
    return True


def _play(session: Session, draft: Draft, rest: str) -> bool:
    entry = draft.entry
    if entry.start is None or entry.end is None:
        session.say("  It is not known where in the recording this was said.")
        return False
    told = session.desk.play(session.desk.recording(draft.recording), entry.start, entry.end)
    if told:
        session.say(f"  {told}")
    return False


def undo_last(session: Session) -> bool:
    """Take back the latest decision that still stands; False if there is none."""
    step = decisions.next_to_undo(session.desk.steps())
    if step is None:
        session.say("  There is nothing to undo.")
        return False
    session.keep(decisions.undo(step, session.desk.now(step), session.desk.clock()))
    first = step.changes[0].after.entry
    more = f" and {len(step.changes) - 1} more" if len(step.changes) > 1 else ""
    session.say(f'  Undone: {step.decision} of "{first.quote or entry_line(first)}"{more}.')
    return True


def _undo(session: Session, draft: Draft, rest: str) -> bool:
    return undo_last(session)


def _later(session: Session, draft: Draft, rest: str) -> bool:
    session.later.add(draft.uuid)
    return True


def _accept(session: Session, draft: Draft, rest: str) -> bool:
    accept_unflagged(session)
    return True


def _write(session: Session, draft: Draft, rest: str) -> bool:
    write_row(session, draft.recording, draft.entry.hive, None)
    return True


def write_row(session: Session, recording: str, hive: str | None, where: Stretch | None) -> None:
    """A row the tool missed, from fields the keeper fills in."""
    blank = Entry(
        hive, "note", "see", "note", "seen",
        start=where.start if where else None,
        end=where.end if where else None,
        confidence=1.0,
    )  # fmt: skip
    day = session.desk.recording(recording).recorded.at.date()
    entry = _edit_fields(session, blank, day)
    if entry == blank:
        session.say("  Nothing written.")
        return
    session.keep(decisions.write(recording, entry, session.desk.clock()))


ACTS: dict[str, Callable[[Session, Draft, str], bool]] = {
    "c": _confirm,
    "e": _edit,
    "r": _reject,
    "s": _split,
    "h": _assign,
    "p": _play,
    "u": _undo,
    "n": _later,
    "a": _accept,
    "w": _write,
}
