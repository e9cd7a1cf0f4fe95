"""A phone hands in a recording: piece by piece, so that a lost connection costs one piece.

A file is known by its name, size and time; what has come of it lies beside the recordings
until it is whole. Pieces are JSON like every other change, so the guard's rules hold here.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
import os
import queue
import re
import shutil
import threading
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from fieldvoice.errors import FieldvoiceError, InputError
from fieldvoice.wire import asked_in

PIECE = 128 * 1024
"""Bytes handed in at a time; as text in JSON they stay below the guard's longest request."""

MOST = 2 * 1024**3
"""Bytes of the longest recording: a whole day as MP3, some hours as WAV."""

_LATEST = 1e14  # milliseconds since 1970: the year 5138; a disk cannot note much more

SPARE = 256 * 1024**2
"""Bytes that must be left on the disk."""

Take = Callable[[Path], str]
"""Hears a recording and puts its drafts into the logbook; tells in a sentence what came of it."""

Json = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Promised:
    """A file that is being handed in."""

    id: str
    name: str
    size: int
    modified: float  # seconds since 1970; when the phone closed it


@dataclass(slots=True)
class HandingIn:
    """What has come, what is being heard, and what came of it."""

    folder: Path
    take: Take
    _told: dict[str, str] = field(default_factory=dict)
    _turn: threading.Lock = field(default_factory=threading.Lock)
    _waiting: queue.Queue[tuple[str, Path]] = field(default_factory=queue.Queue)
    _worker: threading.Thread | None = None

    def begin(self, asked: Json) -> Json:
        """A file is announced; tells how much of it is here already."""
        file = _promised(asked)
        self._need_room(file)
        return {"id": file.id, "have": self._have(file), "piece": PIECE}

    def piece(self, asked: Json) -> Json:
        """One more piece; one that comes twice or too early changes nothing."""
        file = _promised(asked)
        at, text = asked.get("at"), asked.get("data")
        if not isinstance(at, int) or not isinstance(text, str):
            raise InputError("A piece needs its place and its bytes.")
        try:
            data = base64.b64decode(text, validate=True)
        except (binascii.Error, ValueError) as error:
            raise InputError("The bytes of a piece are no base64.") from error
        with self._turn:
            self._need_room(file)  # whether it was announced or not
            have = self._have(file)
            if at == have and len(data) <= min(PIECE, file.size - have):
                with self._part(file).open("ab") as part:
                    part.write(data)
                    part.flush()
                    os.fsync(part.fileno())
                have += len(data)
        return {"have": have}

    def done(self, asked: Json) -> Json:
        """All is here: the file gets its name, and is heard when its turn comes."""
        file = _promised(asked)
        with self._turn:
            whole = self._whole(file)
            if not whole.exists():
                if self._have(file) != file.size:
                    return {"have": self._have(file)}
                os.utime(self._part(file), (file.modified, file.modified))
                self._part(file).rename(whole)
            if file.id not in self._told:
                self._told[file.id] = ""
                self._waiting.put((file.id, whole))
            if self._worker is None or not self._worker.is_alive():
                self._worker = threading.Thread(target=self._work, name="taking-in", daemon=True)
                self._worker.start()
        return {"have": file.size}

    def state(self, asked: Json) -> Json:
        """What came of a file: a sentence, or none while it is being heard."""
        return {"said": self._told.get(_promised(asked).id, "")}

    def _work(self) -> None:
        while True:
            name, path = self._waiting.get()
            said = f"An unforeseen fault. The recording is kept: run `fieldvoice add {path}`."
            try:
                said = self.take(path)
            except FieldvoiceError as error:
                said = str(error)
            finally:
                self._told[name] = said

    def _need_room(self, file: Promised) -> None:
        """Refuse a file that would leave too little of the disk."""
        self.folder.mkdir(parents=True, exist_ok=True)
        left = file.size - self._have(file)
        if left and shutil.disk_usage(self.folder).free - left < SPARE:
            raise InputError(
                f"There is no room for {file.name} ({file.size / 1e6:.0f} MB) on the "
                "computer; make room there and try again."
            )

    def _have(self, file: Promised) -> int:
        if self._whole(file).exists():
            return file.size
        part = self._part(file)
        return part.stat().st_size if part.exists() else 0

    def _part(self, file: Promised) -> Path:
        return self.folder / f".{file.id}.part"

    def _whole(self, file: Promised) -> Path:
        return self.folder / file.name


def _promised(asked: Json) -> Promised:
    """What the phone says of its file; nothing of its name but harmless letters is kept.

    Raises:
        InputError: something is missing, or the file is too big.
    """
    name, size, modified = asked.get("name"), asked.get("size"), asked.get("modified")
    if not isinstance(name, str) or not isinstance(size, int) or size <= 0:
        raise InputError("The file has no name or no length; choose another.")
    if size > MOST:
        raise InputError(
            f"{name} is longer than this page takes ({MOST / 1e9:.1f} GB). Copy it to the "
            "computer and use `fieldvoice add`."
        )
    seconds = 0.0
    if isinstance(modified, int | float) and 0 < modified < _LATEST:
        seconds = modified / 1000
    mark = hashlib.sha256(json.dumps([name, size, seconds]).encode()).hexdigest()[:12]
    given = Path(name.replace("\\", "/"))
    stem = re.sub(r"[^A-Za-z0-9._-]+", "_", given.stem).strip("._")[:60] or "recording"
    suffix = re.sub(r"[^A-Za-z0-9.]", "", given.suffix)[:6].lower()
    return Promised(mark, f"{stem}-{mark[:6]}{suffix}", size, seconds)


def hand_in_routes(handing: HandingIn, page: Callable[[], str]) -> list[Route]:
    """The addresses for it; `page` gives the page's HTML."""

    async def show(request: Request) -> Response:
        return HTMLResponse(page())

    return [
        Route("/hand-in", show),
        Route("/hand-in/begin", _change(handing.begin), methods=["POST"]),
        Route("/hand-in/piece", _change(handing.piece), methods=["POST"]),
        Route("/hand-in/done", _change(handing.done), methods=["POST"]),
        Route("/hand-in/state", _change(handing.state), methods=["POST"]),
    ]


def _change(do: Callable[[Json], Json]) -> Callable[[Request], Awaitable[Response]]:
    async def handler(request: Request) -> Response:
        asked = asked_in(await request.body())
        return JSONResponse(await run_in_threadpool(do, asked))

    return handler
