"""The tables of the logbook, as steps that only move forward.

A step is never edited once released: a new one is added below it. Every step runs
in one transaction together with the record that it ran. The closed lists are
written out here and not taken from `types`, so that an old step stays what it was.
"""

from __future__ import annotations

from typing import Any

from sqlite_utils import Migrations

from fieldvoice.logbook.schema_answers import step_0003_answers
from fieldvoice.logbook.schema_forgotten import step_0005_forgotten
from fieldvoice.logbook.schema_inbox import step_0004_inbox

APPLICATION_ID = 0x46564C42  # "FVLB", in the file's header

_ROW = """
  hive TEXT CHECK (hive <> ''),
  kind TEXT NOT NULL CHECK (kind IN ('weather', 'forage', 'population', 'queen', 'brood',
    'stores', 'health', 'mites', 'treatment', 'feed', 'equipment', 'colony', 'harvest',
    'supply', 'note')),
  action TEXT NOT NULL CHECK (action IN ('give', 'add', 'remove', 'replace', 'move', 'open',
    'close', 'reduce', 'repair', 'clean', 'sample', 'treat', 'split', 'combine', 'requeen',
    'mark', 'harvest', 'weigh', 'inspect', 'get', 'see')),
  item TEXT NOT NULL,
  status TEXT NOT NULL CHECK (status IN ('done', 'seen', 'absent', 'planned', 'skipped', 'past')),
  when_from TEXT CHECK (when_from IS date(when_from, '+0 days')),
  when_to TEXT CHECK (when_to IS date(when_to, '+0 days')),
  details TEXT NOT NULL DEFAULT '{}' CHECK (json_type(details) = 'object'),
  quote TEXT NOT NULL DEFAULT '',
  start_s REAL,
  end_s REAL,
  confidence REAL NOT NULL CHECK (confidence BETWEEN 0 AND 1),
  flags TEXT NOT NULL DEFAULT '[]' CHECK (json_type(flags) = 'array'),
  because TEXT NOT NULL DEFAULT '[]' CHECK (json_type(because) = 'array'),
"""

_VALUE = """
  position INTEGER NOT NULL,
  role TEXT NOT NULL CHECK (role IN ('amount', 'ratio', 'count', 'size', 'weight',
    'temperature', 'wind', 'gust', 'age', 'duration', 'sample', 'rate', 'share', 'moisture',
    'price')),
  lo REAL NOT NULL,
  hi REAL NOT NULL CHECK (hi >= lo),
  unit TEXT,
  approx INTEGER NOT NULL CHECK (approx IN (0, 1)),
  said TEXT NOT NULL,
"""

# Moments are UTC to the second; the offset from UTC at that place and time stands beside.
_MOMENT = "TEXT NOT NULL CHECK ({0} GLOB '????-??-??T??:??:??Z')"

_REGISTER = f"""
CREATE TABLE yards (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE CHECK (name <> ''),
  added_at {_MOMENT.format("added_at")},
  retired_at TEXT
) STRICT;
CREATE TABLE hives (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  yard_id INTEGER NOT NULL REFERENCES yards (id),
  label TEXT NOT NULL COLLATE NOCASE CHECK (label <> ''),
  position INTEGER NOT NULL,
  added_at {_MOMENT.format("added_at")},
  retired_at TEXT
) STRICT;
CREATE UNIQUE INDEX hives_label ON hives (yard_id, label) WHERE retired_at IS NULL;
CREATE TABLE aliases (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  hive_id INTEGER NOT NULL REFERENCES hives (id),
  alias TEXT NOT NULL COLLATE NOCASE CHECK (alias <> ''),
  source TEXT NOT NULL CHECK (source IN ('keeper', 'renamed', 'learnt')),
  added_at {_MOMENT.format("added_at")},
  UNIQUE (hive_id, alias)
) STRICT;
"""

_HEARD = f"""
CREATE TABLE recordings (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
  path TEXT NOT NULL,
  yard_id INTEGER NOT NULL REFERENCES yards (id),
  recorded_at {_MOMENT.format("recorded_at")},
  utc_offset_min INTEGER NOT NULL,
  day TEXT NOT NULL CHECK (day IS date(day, '+0 days')),
  time_source TEXT NOT NULL
    CHECK (time_source IN ('option', 'container', 'file name', 'file time')),
  duration_s REAL NOT NULL,
  engine TEXT NOT NULL,
  model TEXT NOT NULL,
  transcript TEXT NOT NULL CHECK (json_valid(transcript)),
  stage TEXT NOT NULL CHECK (stage IN ('heard', 'drafted')),
  added_at {_MOMENT.format("added_at")}
) STRICT;
CREATE INDEX recordings_at ON recordings (recorded_at);
CREATE TABLE words (
  recording_id INTEGER NOT NULL REFERENCES recordings (id) ON DELETE CASCADE,
  position INTEGER NOT NULL,
  segment INTEGER NOT NULL,
  word TEXT NOT NULL,
  start_s REAL NOT NULL,
  end_s REAL NOT NULL,
  probability REAL NOT NULL,
  PRIMARY KEY (recording_id, position)
) STRICT, WITHOUT ROWID;
CREATE TABLE unheard (
  recording_id INTEGER NOT NULL REFERENCES recordings (id) ON DELETE CASCADE,
  position INTEGER NOT NULL,
  start_s REAL NOT NULL,
  end_s REAL NOT NULL,
  looked_at TEXT,
  PRIMARY KEY (recording_id, position)
) STRICT, WITHOUT ROWID;
CREATE TABLE windows (
  key TEXT PRIMARY KEY,
  result TEXT NOT NULL CHECK (json_valid(result)),
  heard_at {_MOMENT.format("heard_at")}
) STRICT, WITHOUT ROWID;
"""

_DRAFTS = f"""
CREATE TABLE drafts (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  recording_id INTEGER NOT NULL REFERENCES recordings (id),
  parent TEXT,
  version INTEGER NOT NULL CHECK (version >= 1),
  state TEXT NOT NULL
    CHECK (state IN ('waiting', 'confirmed', 'rejected', 'split', 'withdrawn')),
  {_ROW}
  changed_at {_MOMENT.format("changed_at")}
) STRICT;
CREATE INDEX drafts_state ON drafts (state, recording_id);
CREATE INDEX drafts_recording ON drafts (recording_id, start_s);
CREATE TABLE draft_values (
  draft_id INTEGER NOT NULL REFERENCES drafts (id) ON DELETE CASCADE,
  {_VALUE}
  PRIMARY KEY (draft_id, position)
) STRICT, WITHOUT ROWID;
"""

_ENTRIES = f"""
CREATE TABLE entries (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE REFERENCES drafts (uuid),
  recording_id INTEGER NOT NULL REFERENCES recordings (id),
  yard_id INTEGER NOT NULL REFERENCES yards (id),
  hive_id INTEGER REFERENCES hives (id),
  {_ROW}
  recorded_at {_MOMENT.format("recorded_at")},
  utc_offset_min INTEGER NOT NULL,
  day TEXT NOT NULL CHECK (day IS date(day, '+0 days')),
  confirmed_at {_MOMENT.format("confirmed_at")}
) STRICT;
CREATE INDEX entries_hive ON entries (hive_id, recorded_at);
CREATE INDEX entries_yard ON entries (yard_id, recorded_at);
CREATE INDEX entries_kind ON entries (kind, recorded_at);
CREATE INDEX entries_status ON entries (status, recorded_at);
CREATE INDEX entries_item ON entries (item, recorded_at);
CREATE INDEX entries_at ON entries (recorded_at);
CREATE INDEX entries_recording ON entries (recording_id);
CREATE INDEX entries_target ON entries (json_extract(details, '$.target_hive'))
  WHERE json_extract(details, '$.target_hive') IS NOT NULL;
CREATE INDEX entries_source ON entries (json_extract(details, '$.source_hive'))
  WHERE json_extract(details, '$.source_hive') IS NOT NULL;
CREATE TABLE entry_values (
  entry_id INTEGER NOT NULL REFERENCES entries (id) ON DELETE CASCADE,
  {_VALUE}
  PRIMARY KEY (entry_id, position)
) STRICT, WITHOUT ROWID;
CREATE VIRTUAL TABLE entries_fts USING fts5 (
  quote, item, content='entries', content_rowid='id', tokenize='porter unicode61'
);
CREATE TRIGGER entries_fts_insert AFTER INSERT ON entries BEGIN
  INSERT INTO entries_fts (rowid, quote, item)
  VALUES (new.id, new.quote, new.item);
END;
CREATE TRIGGER entries_fts_delete AFTER DELETE ON entries BEGIN
  INSERT INTO entries_fts (entries_fts, rowid, quote, item)
  VALUES ('delete', old.id, old.quote, old.item);
END;
CREATE TRIGGER entries_fts_update AFTER UPDATE ON entries BEGIN
  INSERT INTO entries_fts (entries_fts, rowid, quote, item)
  VALUES ('delete', old.id, old.quote, old.item);
  INSERT INTO entries_fts (rowid, quote, item)
  VALUES (new.id, new.quote, new.item);
END;
"""

_HISTORY = f"""
CREATE TABLE history (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  step TEXT NOT NULL,
  at {_MOMENT.format("at")},
  decision TEXT NOT NULL
    CHECK (decision IN ('confirm', 'edit', 'reject', 'split', 'write', 'undo')),
  undoes TEXT,
  draft TEXT NOT NULL,
  before TEXT CHECK (before IS NULL OR json_type(before) = 'object'),
  after TEXT NOT NULL CHECK (json_type(after) = 'object')
) STRICT;
CREATE INDEX history_step ON history (step);
CREATE INDEX history_draft ON history (draft);
CREATE INDEX history_undoes ON history (undoes) WHERE undoes IS NOT NULL;
CREATE TRIGGER history_is_never_changed BEFORE UPDATE ON history BEGIN
  SELECT RAISE (ABORT, 'the history is never changed');
END;
CREATE TRIGGER history_is_never_deleted BEFORE DELETE ON history BEGIN
  SELECT RAISE (ABORT, 'the history is never deleted');
END;
"""


def step_0001_first(db: Any) -> None:
    """Register, recordings, drafts, entries, history."""
    for script in (_REGISTER, _HEARD, _DRAFTS, _ENTRIES, _HISTORY):
        db.executescript(script)
    db.execute(f"PRAGMA application_id = {APPLICATION_ID}")


_LEARNT = f"""
CREATE TABLE respellings (
  id INTEGER PRIMARY KEY,
  uuid TEXT NOT NULL UNIQUE,
  heard TEXT NOT NULL COLLATE NOCASE CHECK (heard <> ''),
  meant TEXT NOT NULL COLLATE NOCASE CHECK (meant <> ''),
  used INTEGER NOT NULL CHECK (used IN (0, 1)),
  decided_at {_MOMENT.format("decided_at")},
  UNIQUE (heard, meant)
) STRICT;
CREATE TABLE waveforms (
  recording_id INTEGER PRIMARY KEY REFERENCES recordings (id) ON DELETE CASCADE,
  columns BLOB NOT NULL
) STRICT;
"""


def step_0002_learnt(db: Any) -> None:
    """What the keeper said of misheard words; the waveforms that review shows."""
    db.executescript(_LEARNT)


STEPS = (step_0001_first, step_0002_learnt, step_0003_answers, step_0004_inbox, step_0005_forgotten)

MIGRATIONS = Migrations("fieldvoice")
for _step in STEPS:
    MIGRATIONS()(_step)
