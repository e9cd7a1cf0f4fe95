"""Hearing: a recording becomes a transcript. Knows nothing of bees."""
