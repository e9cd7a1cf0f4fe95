"""Find the folders that ship beside the package: `models` and `demo`.

In a checkout (and an editable install) they stand next to the package; in a wheel
they are inside it, put there by the build configuration.
"""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parent


def shipped(name: str) -> Path:
    """The folder `name` ("models", "demo") wherever this install keeps it."""
    inside = _PACKAGE / name
    return inside if inside.is_dir() else _PACKAGE.parent / name
