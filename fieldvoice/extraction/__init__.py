"""Extraction: a transcript becomes drafts. Knows nothing of SQL or pages."""
