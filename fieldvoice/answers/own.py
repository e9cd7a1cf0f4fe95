"""The keeper's own additions to the trade's data: TOML files beside the logbook."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

from fieldvoice.answers.ask import Ask
from fieldvoice.errors import SettingsError
from fieldvoice.trade.load import trade_file


def named_entries(ask: Ask, file: str, table: str, needs: tuple[str, ...]) -> dict[str, Any]:
    """The entries of a table of `trade/FILE.toml` by name, and those of FILE.toml of one's own.

    An own entry replaces the one of the same name.

    Raises:
        SettingsError: the own file is no TOML, or an entry lacks one of `needs`.
    """
    entries = {entry["name"]: entry for entry in trade_file(file)[table]}
    own = _beside(ask, f"{file}.toml")
    if own is None or not own.is_file():
        return entries
    try:
        read = _read(own, own.stat().st_mtime_ns).get(table, [])
        for entry in read:
            missing = [name for name in ("name", *needs) if name not in entry]
            if missing:
                raise SettingsError(
                    f"{own}: an entry of [[{table}]] lacks {', '.join(missing)}; write it as in "
                    f"fieldvoice/trade/{file}.toml."
                )
            entries[entry["name"]] = entry
    except (OSError, TypeError, AttributeError, ValueError) as error:
        raise SettingsError(
            f"{own} cannot be read ({error}); write it as fieldvoice/trade/{file}.toml is "
            "written, or delete it."
        ) from error
    return entries


def _beside(ask: Ask, name: str) -> Path | None:
    """A file beside the logbook; a logbook in memory has nothing beside it."""
    for _, database, path in ask.logbook.execute("PRAGMA database_list").fetchall():
        if database == "main" and path:
            return Path(path).parent / name
    return None


@lru_cache(maxsize=8)
def _read(path: Path, changed: int) -> dict[str, Any]:
    """The file's content; `changed` is its time, so that a new text is read."""
    return tomllib.loads(path.read_text(encoding="utf-8"))
