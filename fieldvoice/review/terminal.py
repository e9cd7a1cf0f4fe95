"""Review in the terminal: one draft at a time, the doubtful ones first.

Every decision is kept the moment it is taken; leaving at any point loses nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Protocol

from fieldvoice.errors import FieldvoiceError, InputError
from fieldvoice.plain import clock, entry_line, hive_name
from fieldvoice.review import decisions
from fieldvoice.review.fields import FIELDS, NOTHING, field_text, set_field
from fieldvoice.review.queue import doubtful_first, open_flags, unflagged, why
from fieldvoice.types import Draft, Entry, Recording, Register, Step, Stretch

KEYS = (
    "c confirm  e edit  r reject  s split  h other hive  p play  u undo  n later  "
    "a all unflagged  q quit  ? help"
)
HELP = """\
  c            confirm: the row goes into the log
  e            edit: asks for a field and what it should be; or at once: e status planned
  r            reject: the row is not true
  s            split into several rows: s 4, 5, 6 (one for each hive) or s x2 (two copies)
  h            give the row to another hive: h 9 (h all: every hive, h -: the yard itself)
  p            play the piece of the recording
  u            undo the last decision, also one of an earlier day
  n            leave it for later
  a            confirm all rows without a flag in one act
  w            write a row that was missed
  q            stop; everything decided so far is kept"""


class Desk(Protocol):
    """What review needs of the logbook and the machine."""

    def drafts(self) -> Sequence[Draft]:
        """Drafts that wait, in the order they were said."""
        ...

    def register(self) -> Register:
        """The hives, as they are in the register now."""
        ...

    def recording(self, uuid: str) -> Recording:
        """The recording of that uuid."""
        ...

    def unheard(self) -> Mapping[str, Sequence[Stretch]]:
        """Recordings with speech that gave no words and that nobody has looked at."""
        ...

    def looked_at(self, recording: str) -> None:
        """Note that the unheard stretches of a recording were looked at."""
        ...

    def save(self, step: Step) -> None:
        """Keep a decision."""
        ...

    def steps(self) -> Sequence[Step]:
        """Decisions, newest first."""
        ...

    def now(self, step: Step) -> Mapping[str, Draft]:
        """The drafts of a step as they are now."""
        ...

    def add_hive(self, label: str, yard: str) -> None:
        """Put a hive into the register."""
        ...

    def play(self, recording: Recording, start: float, end: float) -> str:
        """Play a piece; returns what to tell the keeper, or ""."""
        ...

    def clock(self) -> datetime:
        """This moment."""
        ...


@dataclass(slots=True)
class Session:
    """One sitting: the desk, the way to talk, and what was left for later."""

    desk: Desk
    ask: Callable[[str], str]  # raises EOFError at the end of the input
    say: Callable[[str], None]
    later: set[str] = field(default_factory=set)
    heading: str = ""  # uuid of the recording that was last introduced


def review(session: Session) -> None:
    """Go through the drafts that wait, then through speech that gave no words."""
    try:
        while (draft := _next(session)) is not None:
            _introduce(session, draft)
            _show(session, draft)
            if not _decide(session, draft):
                break
        else:
            _review_unheard(session)
    except EOFError:
        session.say("")
    left = len(session.desk.drafts())
    session.say(
        f"{left} {'draft waits' if left == 1 else 'drafts wait'}; go on with `fieldvoice review`."
        if left
        else "No drafts wait."
    )


def accept_unflagged(session: Session) -> int:
    """Confirm every draft without a flag in one act; returns how many."""
    ready = unflagged(session.desk.drafts(), session.desk.register())
    if ready:
        session.desk.save(decisions.confirm(ready, session.desk.clock()))
    session.say(f"{len(ready)} {'row' if len(ready) == 1 else 'rows'} without a flag confirmed.")
    return len(ready)


def _next(session: Session) -> Draft | None:
    queue = doubtful_first(session.desk.drafts(), session.desk.register())
    return next((draft for draft in queue if draft.uuid not in session.later), None)


def _introduce(session: Session, draft: Draft) -> None:
    """Say which recording comes, once."""
    if session.heading == draft.recording:
        return
    session.heading = draft.recording
    recording = session.desk.recording(draft.recording)
    waiting = [d for d in session.desk.drafts() if d.recording == draft.recording]
    doubtful = sum(1 for d in waiting if open_flags(d, session.desk.register()))
    session.say(
        f"\n=== {recording.recorded.at:%a %Y-%m-%d %H:%M}, {recording.yard}: "
        f"{len(waiting)} to decide, {doubtful} of them doubtful ==="
    )


def _show(session: Session, draft: Draft) -> None:
    entry = draft.entry
    at = f" at {clock(entry.start)}" if entry.start is not None else ""
    session.say(f"\n{hive_name(entry.hive)}{at}, {entry.confidence:.0%} sure")
    session.say(f"  {entry_line(entry)}")
    if entry.quote:
        session.say(f'  "{entry.quote}"')
    for flag in open_flags(draft, session.desk.register()):
        session.say(f"  ! {why(flag, entry)}")


def _decide(session: Session, draft: Draft) -> bool:
    """Ask what to do with one draft and do it; False to stop. Asks again after a slip."""
    while True:
        key, _, rest = session.ask(f"{KEYS}\n> ").strip().partition(" ")
        if key == "q":
            return False
        act = _ACTS.get(key)
        if act is None:
            session.say(HELP)
            continue
        try:
            done = act(session, draft, rest.strip())
        except FieldvoiceError as error:
            session.say(f"  {error}")
            return True  # it may have changed elsewhere: show it as it is now
        if done:
            return True


def _confirm(session: Session, draft: Draft, rest: str) -> bool:
    hive = draft.entry.hive
    if hive not in (None, "all") and not _known(session, str(hive)):
        yard = session.desk.recording(draft.recording).yard
        answer = session.ask(f"Hive {hive} is not in the register. Add it to {yard}? [y/n] ")
        if not answer.strip().lower().startswith("y"):
            session.say("  Not confirmed; give the row to another hive with h, or edit it.")
            return False
        session.desk.add_hive(str(hive), yard)
    session.desk.save(decisions.confirm([draft], session.desk.clock()))
    return True


def _known(session: Session, label: str) -> bool:
    register = session.desk.register()
    return label.lower() in {known.lower() for known in (*register.labels, *register.aliases)}


def _edit(session: Session, draft: Draft, rest: str) -> bool:
    entry = draft.entry
    day = session.desk.recording(draft.recording).recorded.at.date()
    if rest:
        name, _, text = rest.partition(" ")
        entry = set_field(entry, name, text, day)
    else:
        entry = _edit_fields(session, entry, day)
    if entry == draft.entry:
        return True
    decisions.check_entry(entry)
    session.desk.save(decisions.edit(draft, entry, session.desk.clock()))
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
            changed = set_field(entry, name, text, day)
            decisions.check_entry(changed)
            entry = changed
        except InputError as error:
            session.say(f"  {error}")


def _reject(session: Session, draft: Draft, rest: str) -> bool:
    session.desk.save(decisions.reject([draft], session.desk.clock()))
    return True


def _split(session: Session, draft: Draft, rest: str) -> bool:
    rest = rest or session.ask("  Hives of the rows (4, 5, 6), or x2 for two copies: ").strip()
    if rest[:1] == "x" and rest[1:].isdigit():
        copies = [draft.entry] * min(int(rest[1:]), 50)
    else:
        labels = [label.strip() for label in rest.split(",") if label.strip()]
        copies = [replace(draft.entry, hive=label) for label in labels]
    session.desk.save(decisions.split(draft, copies, session.desk.clock()))
    return True


def _assign(session: Session, draft: Draft, rest: str) -> bool:
    label = rest or session.ask("  Which hive (all: every hive, -: the yard itself)? ").strip()
    if not label:
        return False
    hive = None if label == NOTHING else label
    session.desk.save(decisions.assign([draft], hive, session.desk.clock()))
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


def _undo(session: Session, draft: Draft, rest: str) -> bool:
    step = decisions.next_to_undo(session.desk.steps())
    if step is None:
        session.say("  There is nothing to undo.")
        return False
    session.desk.save(decisions.undo(step, session.desk.now(step), session.desk.clock()))
    session.later -= {change.after.uuid for change in step.changes}
    first = step.changes[0].after.entry
    more = f" and {len(step.changes) - 1} more" if len(step.changes) > 1 else ""
    session.say(f'  Undone: {step.decision} of "{first.quote or entry_line(first)}"{more}.')
    return True


def _later(session: Session, draft: Draft, rest: str) -> bool:
    session.later.add(draft.uuid)
    return True


def _accept(session: Session, draft: Draft, rest: str) -> bool:
    accept_unflagged(session)
    return True


def _write(session: Session, draft: Draft, rest: str) -> bool:
    _write_row(session, draft.recording, draft.entry.hive, None)
    return True


def _write_row(session: Session, recording: str, hive: str | None, where: Stretch | None) -> None:
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
    session.desk.save(decisions.write(recording, entry, session.desk.clock()))


def _review_unheard(session: Session) -> None:
    """Speech that gave no words: hear it, write what was said, or let it be."""
    for uuid, stretches in session.desk.unheard().items():
        recording = session.desk.recording(uuid)
        session.say(
            f"\n=== {recording.recorded.at:%a %Y-%m-%d %H:%M}, {recording.yard}: "
            "speech that gave no words ==="
        )
        for stretch in stretches:
            session.say(f"  {clock(stretch.start)} to {clock(stretch.end)}")
            while True:
                key = session.ask("p play  w write a row  c seen  n later  q quit\n> ").strip()
                if key == "p":
                    told = session.desk.play(recording, stretch.start, stretch.end)
                    if told:
                        session.say(f"  {told}")
                elif key == "w":
                    _write_row(session, uuid, None, stretch)
                elif key in ("c", "n", "q"):
                    break
            if key != "c":
                break
        else:
            session.desk.looked_at(uuid)
        if key == "q":
            return


_ACTS: dict[str, Callable[[Session, Draft, str], bool]] = {
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
