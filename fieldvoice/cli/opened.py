"""What every command needs of the logbook: where it is, opened, and the clock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path

import click

from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.settings import logbook_path


def path_of(option: str | None) -> Path:
    """The logbook's path, from the option that the group was given."""
    return logbook_path(Path(option) if option else None)


@contextmanager
def logbook_of(
    option: str | None, *, create: bool = False, write: bool = False
) -> Iterator[Logbook]:
    """The opened logbook; closed when the command is done."""
    with open_logbook(path_of(option), create=create, write=write) as logbook:
        yield logbook


def now() -> datetime:
    """This moment, with the offset of this place."""
    return datetime.now().astimezone()


class Day(click.ParamType[date]):
    """A day as an option: 2026-05-03."""

    name = "day"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> date:
        """Read it, or say how it is written."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value!r} is not a day; write it as 2026-05-03.", param, ctx)


DAY = Day()
