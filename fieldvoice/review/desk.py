"""What a review in the terminal works with: the desk, and the way to talk."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from fieldvoice.types import Draft, Recording, Register, Step, Stretch


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

    def steps(self) -> Iterable[Step]:
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
    focus: tuple[str, ...] = ()  # uuids that are shown next: what was just changed
    heading: str = ""  # uuid of the recording that was last introduced

    def keep(self, step: Step) -> None:
        """Keep a decision; what still waits after it is shown next."""
        self.desk.save(step)
        changed = [change.after.uuid for change in step.changes]
        self.focus = tuple(dict.fromkeys((*changed, *self.focus)))
        self.later -= set(changed)
