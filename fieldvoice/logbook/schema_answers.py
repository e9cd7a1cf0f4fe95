"""The step of the schema for what a keeper adds to the log: labels, medicines, decisions."""

from __future__ import annotations

from typing import Any

_AT = "TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??Z')"

_SCRIPT = f"""
CREATE INDEX entries_kind_day ON entries (kind, day);
CREATE INDEX entries_status_day ON entries (status, day);
CREATE INDEX entries_hive_day ON entries (hive_id, day);
CREATE INDEX entries_all ON entries (yard_id, day) WHERE hive = 'all';
CREATE INDEX entries_day ON entries (day);

-- What stands on a product's label, typed in by the keeper. Never changed: a new one replaces.
CREATE TABLE label_records (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  product TEXT NOT NULL COLLATE NOCASE CHECK (product <> ''),
  item TEXT NOT NULL CHECK (item <> ''),
  ingredient TEXT NOT NULL DEFAULT '',
  form TEXT NOT NULL DEFAULT '',
  days_min INTEGER,
  days_max INTEGER CHECK (days_max >= days_min),
  low_c REAL,
  high_c REAL,
  supers TEXT NOT NULL CHECK (supers IN ('off', 'allowed', 'not said')),
  days_before_supers INTEGER,
  withdrawal_days INTEGER,
  source TEXT NOT NULL CHECK (source <> ''),
  dated TEXT NOT NULL DEFAULT '',
  at {_AT}
) STRICT;

-- Medicine bought: the acquisition part of a medicine record.
CREATE TABLE medicine_purchases (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  product TEXT NOT NULL COLLATE NOCASE,
  batch TEXT NOT NULL DEFAULT '',
  day TEXT NOT NULL CHECK (day IS date(day, '+0 days')),
  quantity TEXT NOT NULL DEFAULT '',
  supplier TEXT NOT NULL DEFAULT '',
  at {_AT}
) STRICT;

-- What a treatment row did not say and the keeper wrote down afterwards.
CREATE TABLE medicine_notes (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  entry TEXT NOT NULL,
  field TEXT NOT NULL CHECK (field IN ('product', 'batch', 'dose', 'supplier', 'reason')),
  value TEXT NOT NULL,
  at {_AT}
) STRICT;
CREATE INDEX medicine_notes_entry ON medicine_notes (entry);

-- What the keeper decided on a plan or a follow-up; the newest line counts, all are kept.
CREATE TABLE due_decisions (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  key TEXT NOT NULL,
  decision TEXT NOT NULL CHECK (decision IN ('accepted', 'changed', 'dropped', 'done')),
  due_from TEXT CHECK (due_from IS date(due_from, '+0 days')),
  due_to TEXT CHECK (due_to IS date(due_to, '+0 days')),
  entry TEXT,
  note TEXT NOT NULL DEFAULT '',
  at {_AT}
) STRICT;
CREATE INDEX due_decisions_key ON due_decisions (key);
"""


def step_0003_answers(db: Any) -> None:
    """Label records, medicines, decisions on what is due, indexes for answers."""
    db.executescript(_SCRIPT)
