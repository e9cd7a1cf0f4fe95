"""The step of the schema for recordings whose sound the keeper had deleted."""

from __future__ import annotations

from typing import Any

_SCRIPT = """
CREATE TABLE forgotten (
  recording_id INTEGER PRIMARY KEY REFERENCES recordings (id) ON DELETE CASCADE,
  at TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??Z')
) STRICT;
"""


def step_0005_forgotten(db: Any) -> None:
    """When the sound of a recording was deleted."""
    db.executescript(_SCRIPT)
