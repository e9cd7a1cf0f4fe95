"""The step of the schema for a watched folder: which files were taken in."""

from __future__ import annotations

from typing import Any

_SCRIPT = """
-- By the hash of a file's bytes; a take of several files is one recording.
CREATE TABLE inbox (
  sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
  path TEXT NOT NULL,
  size INTEGER NOT NULL,
  mtime_ns INTEGER NOT NULL,
  recording TEXT,
  problem TEXT NOT NULL DEFAULT '',
  at TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??Z')
) STRICT, WITHOUT ROWID;
CREATE INDEX inbox_path ON inbox (path);
"""


def step_0004_inbox(db: Any) -> None:
    """Files that a watched folder held."""
    db.executescript(_SCRIPT)
