"""Watch, review, add and export at once; `python -m tests.trust.crowd --seconds 600` is the long run."""

from __future__ import annotations

from pathlib import Path

from tests.trust.crowd import crowd


def test_all_at_once(tmp_path: Path) -> None:
    found = crowd(tmp_path, 12.0)
    assert found.problems == []
    assert found.done["page 200"] >= 5
    for name in ("add", "review", "export", "due", "backup"):
        assert found.done[name] >= 1, found.done
    assert found.sounds >= 4
