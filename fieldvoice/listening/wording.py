"""The keeper's signals as data: how each is said, and what is answered."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from importlib.resources import files
from pathlib import Path
from typing import Any

from fieldvoice.errors import SettingsError

NAMES = ("open", "note", "scratch", "mark", "read", "stop")
"""What a signal can ask; the words for it are free."""

OWN = "signals.toml"
"""The keeper's own words, a file beside the logbook."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """One signal: its words, and what becomes of them."""

    say: tuple[str, ...]
    write: str = ""  # stands in the text in its place
    most: int = 0  # words after it that belong to it
    pause: float = 0.0  # seconds of silence that end them
    answer: str = ""


@dataclass(frozen=True, slots=True)
class Wording:
    """All signals, and how near to their words the heard ones must be (0 to 1)."""

    wake: tuple[str, ...]
    never: tuple[str, ...]  # beginnings of what is not the phrase, however like it is
    wake_likeness: float
    wake_near: float  # enough before a signal that was heard surely
    command_likeness: float
    command_sure: float
    reach: float  # seconds between the phrase and the signal
    signals: Mapping[str, Spoken]


def load_wording(folder: Path | None = None) -> Wording:
    """The signals of the package, with what `signals.toml` in `folder` replaces.

    Raises:
        SettingsError: all problems of the keeper's file at once.
    """
    raw = tomllib.loads(files("fieldvoice.listening").joinpath(OWN).read_text(encoding="utf-8"))
    if folder is not None and (folder / OWN).is_file():
        raw = _replaced(raw, folder / OWN)
    signals: dict[str, dict[str, Any]] = raw.pop("signals")
    return Wording(
        wake=tuple(raw.pop("wake")),
        never=tuple(raw.pop("never")),
        signals={
            name: Spoken(say=tuple(one["say"]), **{k: v for k, v in one.items() if k != "say"})
            for name, one in signals.items()
        },
        **raw,
    )


def _replaced(raw: dict[str, Any], path: Path) -> dict[str, Any]:
    try:
        own = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(
            f"{path} cannot be read as TOML ({error}); mend or delete it."
        ) from error
    problems: list[str] = []
    signals = own.pop("signals", {})
    merged = {**raw, **_checked(own, raw, "", problems)}
    merged["signals"] = dict(raw["signals"])
    for name, one in signals.items() if isinstance(signals, dict) else ():
        if name not in NAMES or not isinstance(one, dict):
            problems.append(f"signals.{name} is none (there are: {', '.join(NAMES)})")
            continue
        like = {f.name: _LIKE[f.name] for f in fields(Spoken)}
        merged["signals"][name] = {
            **raw["signals"][name],
            **_checked(one, like, f"signals.{name}.", problems),
        }
    if problems:
        raise SettingsError(f"{path}: {'; '.join(problems)}.")
    return merged


_LIKE: dict[str, Any] = {"say": [""], "write": "", "most": 0, "pause": 0.0, "answer": ""}


def _checked(
    own: dict[str, Any], like: Mapping[str, Any], where: str, problems: list[str]
) -> dict[str, Any]:
    """Those of the keeper's keys that are of the same kind as ours; the others are problems."""
    good = {}
    for key, value in own.items():
        if key not in like or key == "signals":
            problems.append(f"{where}{key} is no key of it")
        elif not _same_kind(value, like[key]):
            problems.append(f"{where}{key} = {value!r} is of the wrong kind")
        else:
            good[key] = value
    return good


def _same_kind(value: Any, like: Any) -> bool:
    if isinstance(like, list):
        return (
            isinstance(value, list)
            and bool(value)
            and all(isinstance(one, str) and any(c.isalnum() for c in one) for one in value)
        )
    if isinstance(like, float):
        return isinstance(value, int | float) and not isinstance(value, bool) and value >= 0
    if isinstance(like, int):
        return isinstance(value, int) and not isinstance(value, bool) and value >= 0
    return isinstance(value, str)
