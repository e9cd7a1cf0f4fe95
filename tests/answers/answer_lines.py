"""The rows of an answer, by column."""

from __future__ import annotations

from typing import Any


def lines(answer: Any) -> list[dict[str, Any]]:
    """The rows of an answer by column."""
    return [dict(zip(answer.columns, row, strict=True)) for row in answer.rows]


def line(answer: Any, hive: str) -> dict[str, Any]:
    """The one row of a hive."""
    (found,) = [row for row in lines(answer) if row["hive"] == hive]
    return found
