"""What each address of the page shows or does, in terms of the logbook."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from fieldvoice.errors import InputError, RecordingError
from fieldvoice.logbook.drafts import (
    drafts_of,
    get_drafts,
    steps,
    versions_of,
    waiting_drafts,
    waiting_recordings,
)
from fieldvoice.logbook.forgetting import forgotten_on, why_silent
from fieldvoice.logbook.learnt import decide_respelling, learnt_aliases
from fieldvoice.logbook.opening import Logbook
from fieldvoice.logbook.recordings import get_recording, recordings
from fieldvoice.logbook.register import need_hive, read_register
from fieldvoice.logbook.register_changes import add_alias, drop_alias
from fieldvoice.logbook.waveforms import keep_waveform, waveform_of
from fieldvoice.plain import clock
from fieldvoice.review.learning import learnt
from fieldvoice.review.page.acts import act, blank
from fieldvoice.review.page.bench import Bench
from fieldvoice.review.page.shown import Rows, board_of, lines_of, undo_text
from fieldvoice.review.page.sound import asked_piece, piece_bytes
from fieldvoice.review.page.typed import read_entry, texts_of
from fieldvoice.review.page.wording import became, facts
from fieldvoice.review.queue import open_flags
from fieldvoice.review.vocabulary import things, units
from fieldvoice.review.waveform import waveform
from fieldvoice.types import ACTIONS, KINDS, ROLES, STATUSES, Entry

Shown = tuple[str, Mapping[str, Any]]
_MOST_DECISIONS = 200


@dataclass(frozen=True, slots=True)
class Answers:
    """One method for each address."""

    bench: Bench
    new_link: Callable[[], tuple[str, str]] | None = None
    """A fresh link for another device and its QR code as SVG; None: this machine only."""

    def recordings(self, request: Request) -> Shown:
        """The list of recordings."""
        with self.bench.turn() as logbook:
            found = [self._summary(logbook, recording) for recording in recordings(logbook)]
        return "recordings.html", {
            "recordings": found[::-1],
            "next": next((r for r in found if r["waiting"]), None),
            "lan": self.new_link is not None,
            "beside": bool(self.bench.beside),
        }

    def next_recording(self) -> str:
        """The address of the oldest recording with rows to decide, else of the list."""
        with self.bench.turn() as logbook:
            following = _following(logbook, "")
        return f"/recordings/{following}" if following else "/"

    def _summary(self, logbook: Logbook, recording: Any) -> dict[str, Any]:
        register = read_register(logbook, recording.yard)
        waiting = waiting_drafts(logbook, recording.uuid)
        return {
            "id": recording.uuid,
            "at": recording.recorded.at,
            "yard": recording.yard,
            "length": clock(recording.duration),
            "name": Path(recording.path).name,
            "waiting": len(waiting),
            "doubtful": sum(bool(open_flags(draft, register)) for draft in waiting),
            "rows": len(drafts_of(logbook, recording.uuid)),
        }

    def recording(self, request: Request) -> Shown:
        """The page of one recording."""
        recording_id = str(request.path_params["recording"])
        with self.bench.turn() as logbook:
            get_recording(logbook, recording_id)  # refused here if there is none
            transcript = self.bench.transcript(recording_id)
            board = board_of(logbook, recording_id, transcript, self.bench.numbers)
            lines = lines_of(logbook, recording_id, transcript)
            register = read_register(logbook, board.recording.yard)
            following = _following(logbook, recording_id)
            state = _fingerprint(logbook, recording_id)
            undo = undo_text(logbook, recording_id)
        return "recording.html", {
            "board": board,
            "lines": lines,
            "unheard": any(line.unheard for line in lines),
            "speech": transcript.speech,
            "labels": register.labels,
            "things": things(),
            "units": sorted(set(units().values())),
            "roles": ROLES,
            "state": state,
            "undo": undo,
            "following": following,
            "lan": self.new_link is not None,
        }

    def form(self, request: Request) -> Shown:
        """The fields of one row, to be changed in place."""
        with self.bench.turn() as logbook:
            found = get_drafts(logbook, [str(request.path_params["row"])])
        if not found:
            raise InputError("There is no such row; load the page again.")
        (draft,) = found.values()
        return "form.html", _form(draft.entry, draft.uuid, draft.state)

    def blank_form(self, request: Request) -> Shown:
        """The fields of a row that was missed."""
        asked: dict[str, Any] = dict(request.query_params)
        for name in ("start", "end"):
            asked[name] = _seconds(asked.get(name))
        return "form.html", _form(blank(asked), "", "new")

    def decisions(self, request: Request) -> Shown:
        """The decisions on a recording, newest first."""
        recording_id = str(request.path_params["recording"])
        with self.bench.turn() as logbook:
            known = list(islice(steps(logbook, recording_id), _MOST_DECISIONS))
        undone = {step.undoes for step in known if step.undoes}
        return "decisions.html", {"steps": known, "undone": undone, "most": _MOST_DECISIONS}

    def decide(self, recording_id: str, asked: Mapping[str, Any]) -> Mapping[str, Any]:
        """Do one act, and show what it changed: all rows only where some may have moved."""
        with self.bench.turn() as logbook:
            told = act(self.bench, logbook, recording_id, asked)
            answer = {"said": told.said, "changed": list(told.changed)}
            if told.regroup:
                return answer | self._board(logbook, recording_id)
            yard = get_recording(logbook, recording_id).yard
            drafts = list(get_drafts(logbook, list(told.changed)).values())
            if any(draft.state == "waiting" for draft in drafts):
                drafts = list(drafts_of(logbook, recording_id))  # hives near by are offered
            rows = Rows(
                drafts, read_register(logbook, yard), self.bench.transcript(recording_id),
                self.bench.numbers,
            ).some(told.changed)  # fmt: skip
            return answer | {"rows": rows} | _as_now(logbook, recording_id)

    def board(self, recording_id: str) -> Mapping[str, Any]:
        """All rows as they are now."""
        with self.bench.turn() as logbook:
            return self._board(logbook, recording_id)

    def _board(self, logbook: Logbook, recording_id: str) -> dict[str, Any]:
        board = board_of(
            logbook, recording_id, self.bench.transcript(recording_id), self.bench.numbers
        )
        return {"board": board} | _as_now(logbook, recording_id)

    def state(self, recording_id: str, asked: Mapping[str, Any]) -> Mapping[str, Any]:
        """All rows, if they are no longer as the page has them."""
        with self.bench.turn() as logbook:
            if asked.get("state") == _fingerprint(logbook, recording_id):
                return {}
            return self._board(logbook, recording_id)

    def check(self, recording_id: str, asked: Mapping[str, Any]) -> Mapping[str, Any]:
        """Read fields while they are typed: what they say, and what cannot be read."""
        with self.bench.turn() as logbook:
            recording = get_recording(logbook, recording_id)
            found = get_drafts(logbook, [str(asked.get("row") or "")])
        entry = next((draft.entry for draft in found.values()), blank({}))
        fields = asked.get("fields")
        day = recording.recorded.at.date()
        read, problems = read_entry(
            entry, fields if isinstance(fields, dict) else {}, day, self.bench.days
        )
        return {"reads": _reads(read), "problems": problems, "kind": read.kind}

    def learn(self, recording_id: str, asked: Mapping[str, Any]) -> Mapping[str, Any]:
        """Words of the transcript that were misheard, or that name a hive."""
        words, hive = str(asked.get("words") or ""), asked.get("hive")
        with self.bench.turn() as logbook:
            if hive:
                yard = get_recording(logbook, recording_id).yard
                known = need_hive(logbook, str(hive), yard)
                add_alias(logbook, known, words, self.bench.clock(), source="learnt")
                return {"said": f'From the next recording on, "{words}" is hive {known.label}.'}
            meant = str(asked.get("meant") or "")
            decide_respelling(logbook, words, meant, used=True, at=self.bench.clock())
        return {"said": f'From the next recording on, "{words}" is read as "{meant}".'}

    def learnt(self, request: Request) -> Shown:
        """Words and names that corrections have taught."""
        with self.bench.turn() as logbook:
            words, names = learnt(logbook), learnt_aliases(logbook)
        return "learnt.html", {
            "words": words, "names": names, "lan": self.new_link is not None,
        }  # fmt: skip

    def decide_word(self, _: str, asked: Mapping[str, Any]) -> Mapping[str, Any]:
        """Use a respelling, or do not."""
        heard, meant = str(asked.get("heard") or ""), str(asked.get("meant") or "")
        used = bool(asked.get("used"))
        with self.bench.turn() as logbook:
            decide_respelling(logbook, heard, meant, used=used, at=self.bench.clock())
        return {"said": f'"{heard}" {"is" if used else "is not"} read as "{meant}" from now on.'}

    def drop_name(self, _: str, asked: Mapping[str, Any]) -> Mapping[str, Any]:
        """Take a learnt name of a hive back."""
        name, label = str(asked.get("name") or ""), str(asked.get("hive") or "")
        with self.bench.turn() as logbook:
            drop_alias(logbook, need_hive(logbook, label, str(asked.get("yard") or "")), name)
        return {"said": f'"{name}" is no name of hive {label} any more.'}

    def phone(self, request: Request) -> Shown:
        """A link for another device in the house."""
        if self.new_link is None:
            return "phone.html", {"link": "", "code": "", "lan": False}
        link, code = self.new_link()
        return "phone.html", {"link": link, "code": code, "lan": True}

    def sound(self, recording_id: str, header: str | None) -> Response:
        """A piece of the recording."""
        with self.bench.turn() as logbook:
            recording = get_recording(logbook, recording_id)
        piece = asked_piece(header, recording.duration)
        if piece is None:
            return Response(status_code=416)
        try:
            body = piece_bytes(piece, partial(self.bench.samples, Path(recording.path)))
        except RecordingError as error:
            with self.bench.turn() as logbook:
                return JSONResponse({"problem": why_silent(logbook, recording_id, error)}, 404)
        return Response(
            body,
            206,
            {
                "accept-ranges": "bytes",
                "content-range": f"bytes {piece.first}-{piece.last}/{piece.total}",
            },
            "audio/wav",
        )

    def waveform(self, recording_id: str) -> Mapping[str, Any]:
        """How loud the recording is along its length, looked at once and kept."""
        with self.bench.turn() as logbook:
            recording = get_recording(logbook, recording_id)
            columns = waveform_of(logbook, recording.uuid)
        if columns is None:
            try:
                columns = waveform(self.bench.blocks(Path(recording.path)), recording.duration)
            except RecordingError as error:
                with self.bench.turn() as logbook:
                    gone = forgotten_on(logbook, recording_id) is not None
                    problem = why_silent(logbook, recording_id, error)
                return {"columns": [], "problem": problem, "gone": gone}
            with self.bench.turn() as logbook:
                keep_waveform(logbook, recording.uuid, columns)
        return {"columns": list(columns)}


def _following(logbook: Logbook, recording_id: str) -> str:
    """The oldest other recording that has rows to decide; "" if none has."""
    waiting = waiting_recordings(logbook)
    return next((uuid for uuid in waiting if uuid != recording_id), "")


def _form(entry: Entry, row: str, state: str) -> dict[str, Any]:
    return {
        "row": row, "state": state, "texts": texts_of(entry), "reads": _reads(entry),
        "start": entry.start, "end": entry.end,
        "kinds": KINDS, "actions": ACTIONS, "statuses": STATUSES,
    }  # fmt: skip


def _reads(entry: Entry) -> str:
    """A row in one line, as the page shows it."""
    return ", ".join([f"{entry.item} {became(entry)}", *facts(entry)])


def _as_now(logbook: Logbook, recording_id: str) -> dict[str, str]:
    return {
        "state": _fingerprint(logbook, recording_id),
        "undo": undo_text(logbook, recording_id),
    }


def _fingerprint(logbook: Logbook, recording_id: str) -> str:
    """Changes with any decision on any row."""
    rows = [f"{uuid}{version}" for uuid, version in versions_of(logbook, recording_id).items()]
    return hashlib.sha256("".join(rows).encode()).hexdigest()[:16]


def _seconds(text: str | None) -> float | None:
    try:
        return float(text) if text else None
    except ValueError:
        return None
