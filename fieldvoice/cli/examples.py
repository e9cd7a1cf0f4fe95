"""The examples that end each command's help."""

from __future__ import annotations


def examples(*calls: str) -> str:
    """Each call on a line of its own, to be copied as it stands; no line is wrapped."""
    return "\n".join(
        ("\b", "Examples:" if len(calls) > 1 else "Example:", *(f"  {c}" for c in calls))
    )
