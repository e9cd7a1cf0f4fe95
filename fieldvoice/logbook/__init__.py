"""The logbook: one SQLite file that holds what was heard, proposed, decided and kept."""
