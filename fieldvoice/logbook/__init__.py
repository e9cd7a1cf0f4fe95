"""The logbook: one SQLite file, its schema, and all that is written to it."""
