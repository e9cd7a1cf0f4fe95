"""Review in the terminal: one draft at a time, the doubtful ones first.

Every decision is kept the moment it is taken; leaving at any point loses nothing.
"""

from __future__ import annotations

from fieldvoice.errors import FieldvoiceError
from fieldvoice.plain import clock, entry_line, hive_name
from fieldvoice.review.acts import ACTS, write_row
from fieldvoice.review.desk import Session
from fieldvoice.review.queue import NOTHING_WAITS, doubtful_first, open_flags, why
from fieldvoice.types import Draft

KEYS = (
    "c confirm  e edit  r reject  s split  h other hive  p play  u undo  n later\n"
    "a all unflagged  w write a missed row  q quit  ? help"
)
PROMPT = "[c e r s h p u n a w q ?] "
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
        else NOTHING_WAITS
    )


def _next(session: Session) -> Draft | None:
    queue = doubtful_first(session.desk.drafts(), session.desk.register())
    left = [draft for draft in queue if draft.uuid not in session.later]
    return next((draft for draft in left if draft.uuid in session.focus), next(iter(left), None))


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
        f"{len(waiting)} to decide, {doubtful} of them doubtful ===\n{KEYS}"
    )


def _show(session: Session, draft: Draft) -> None:
    entry = draft.entry
    at = f" at {clock(entry.start)}" if entry.start is not None else ""
    session.say(
        f"\n{hive_name(entry.hive)}{at}, {entry.confidence:.0%} sure "
        f"({len(session.desk.drafts())} waiting)"
    )
    session.say(f"  {entry_line(entry)}")
    if entry.quote:
        session.say(f'  "{entry.quote}"')
    for flag in open_flags(draft, session.desk.register()):
        session.say(f"  ! {why(flag, entry)}")


def _decide(session: Session, draft: Draft) -> bool:
    """Ask what to do with one draft and do it; False to stop. Asks again after a slip."""
    while True:
        key, _, rest = session.ask(PROMPT).strip().partition(" ")
        if key == "q":
            return False
        act = ACTS.get(key)
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
                    write_row(session, uuid, None, stretch)
                elif key in ("c", "n", "q"):
                    break
            if key != "c":
                break
        else:
            session.desk.looked_at(uuid)
        if key == "q":
            return
