"""`fieldvoice` with rooms that answer at once in the place of speech recognition and extraction.

    python -m tests.trust.adding --logbook LOG add SOUND

The recording is truly decoded, and heard windows are truly kept; only the words are given.
"""

from __future__ import annotations

import sys
import types
from pathlib import Path
from typing import Any

from fieldvoice import cli
from tests.trust.worth import heard, said

ROWS = said(30)


def hear(path: Path, *, store: Any, **_: Any) -> Any:
    """Decode it all, keep a window for each ten seconds, and give the words that were said."""
    from fieldvoice.hearing.decode import decode

    for number, block in enumerate(decode(path)):
        key = f"{path.name}|{number}"
        if store.get(key) is None:
            store.put(key, {"samples": len(block)})
    return heard(ROWS)


def stand_in() -> None:
    """Put the rooms in the place of those that load models."""
    hearing = types.ModuleType("fieldvoice.hearing.transcribe")
    hearing.hear = hear  # type: ignore[attr-defined]
    extraction = types.ModuleType("fieldvoice.extraction.extract")
    extraction.extract = lambda *_: ROWS  # type: ignore[attr-defined]
    sys.modules |= {hearing.__name__: hearing, extraction.__name__: extraction}
    from fieldvoice import pipeline

    pipeline._engine = pipeline._second = lambda *_: None


if __name__ == "__main__":
    stand_in()
    cli.main()
