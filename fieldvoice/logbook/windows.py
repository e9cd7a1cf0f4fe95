"""What was heard window by window, so that hearing that was broken off goes on from there."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from threading import Lock
from typing import Any

from fieldvoice.logbook.moments import utc_text
from fieldvoice.logbook.opening import Logbook, writing


class Windows:
    """The logbook's store of heard windows; each `put` is kept at once.

    Windows are heard by several threads; they take turns here.
    """

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        self._turn = Lock()

    def get(self, key: str) -> Any | None:
        """The result kept under `key`, or None."""
        with self._turn:
            row = self._logbook.execute(
                "SELECT result FROM windows WHERE key = ?", [key]
            ).fetchone()
        return json.loads(row[0]) if row else None

    def put(self, key: str, result: Any) -> None:
        """Keep `result` under `key`; a second one replaces the first."""
        with self._turn, writing(self._logbook):
            self._logbook.execute(
                "INSERT OR REPLACE INTO windows (key, result, heard_at) VALUES (?, ?, ?)",
                [key, json.dumps(result, ensure_ascii=False), utc_text(datetime.now(UTC))],
            )


def forget_windows(logbook: Logbook, before: datetime) -> int:
    """Drop windows that were heard before a moment; how many. Transcripts stay whole."""
    with writing(logbook):
        done = logbook.execute("DELETE FROM windows WHERE heard_at < ?", [utc_text(before)])
        return int(done.rowcount)
