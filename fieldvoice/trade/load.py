"""Read the trade's data files, once each."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def trade_file(name: str) -> dict[str, Any]:
    """The content of fieldvoice/trade/NAME.toml."""
    return tomllib.loads((files("fieldvoice.trade") / f"{name}.toml").read_text(encoding="utf-8"))
