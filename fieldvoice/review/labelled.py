"""Reviewed recordings as labelled narrations, so that extraction can be improved from real use."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fieldvoice.errors import InputError
from fieldvoice.logbook.drafts import drafts_of, steps
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.recordings import recordings, transcript_of
from fieldvoice.logbook.register import read_register
from fieldvoice.types import Draft, Entry, Json, Recording
from fieldvoice.wire import entry_to_json


@dataclass(frozen=True, slots=True)
class Labelled:
    """What became of the recordings."""

    written: tuple[Path, ...]
    waiting: int  # recordings left out: rows of them are still to be decided
    untouched: int  # recordings left out: nothing in them was edited, rejected or added


def export_labelled(logbook: Logbook, folder: Path) -> Labelled:
    """Write each recording that was reviewed to the end, and corrected, to FOLDER/<id>.json.

    The rows in the log are its labels; rejected rows stand beside them as `rejected`. The
    text is what was heard, so a label holds also where the words are wrong.

    Raises:
        InputError: the folder cannot be written.
    """
    written, waiting, untouched = [], 0, 0
    for recording in recordings(logbook):
        drafts = drafts_of(logbook, recording.uuid)
        if any(draft.state == "waiting" for draft in drafts):
            waiting += 1
        elif not _corrected(logbook, recording):
            untouched += 1
        else:
            written.append(_write(folder, recording.uuid, _narration(logbook, recording, drafts)))
    return Labelled(tuple(written), waiting, untouched)


def _corrected(logbook: Logbook, recording: Recording) -> bool:
    undone: set[str | None] = set()
    for step in steps(logbook, recording.uuid):
        if step.uuid in undone:
            continue
        if step.decision == "undo":
            undone.add(step.undoes)
        elif step.decision != "confirm":
            return True
    return False


def _narration(logbook: Logbook, recording: Recording, drafts: Sequence[Draft]) -> Json:
    return {
        "id": recording.uuid,
        "recorded_at": recording.recorded.at.strftime("%Y-%m-%dT%H:%M"),
        "register": list(read_register(logbook, recording.yard).labels),
        "text": transcript_of(logbook, recording.uuid).text,
        "entries": [_label(d.entry) for d in drafts if d.state == "confirmed"],
        "rejected": [_label(d.entry) for d in drafts if d.state == "rejected"],
    }


def _label(entry: Entry) -> Json:
    """A row a person stands behind has nothing unsure in it."""
    return entry_to_json(replace(entry, confidence=1.0, flags=()))


def _write(folder: Path, name: str, narration: Json) -> Path:
    path = folder / f"{name}.json"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(narration, ensure_ascii=False, indent=1), encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path} cannot be written ({error.strerror}).") from error
    return path
