"""A name that was taken for a hive of its own, and turns out to be another name of one."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from fieldvoice.errors import InputError
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.register import find_hive
from fieldvoice.logbook.register_changes import add_alias
from fieldvoice.types import Draft, Recording


def note_nickname(
    logbook: Logbook,
    drafts: Sequence[Draft],
    hive: str | None,
    recording: Recording,
    at: datetime,
) -> str:
    """Rows of an unknown hive given to a known one: its name is the other's alias from now on.

    Only names are: an unknown number is a number that was misheard. Returns the name, or "".
    """
    if hive in (None, "all"):
        return ""
    for name in dict.fromkeys(draft.entry.hive for draft in drafts):
        if name in (None, "all") or any(c.isdigit() for c in str(name)):
            continue
        try:
            known = find_hive(logbook, str(name), recording.yard)
            meant = find_hive(logbook, str(hive), recording.yard)
        except InputError:
            continue
        if known is None and meant is not None:
            add_alias(logbook, meant, str(name), at, source="learnt")
            return str(name)
    return ""
