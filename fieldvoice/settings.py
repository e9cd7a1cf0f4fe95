"""The keeper's settings: one TOML file beside the logbook, all with defaults."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass, fields
from pathlib import Path

from fieldvoice.errors import SettingsError

CHOICES = {
    "units": ("us", "metric"),
    "degrees": ("", "C", "F"),
    "ratio_by": ("weight", "volume"),
    "engine": ("auto", "whisper", "ctranslate2"),
}


@dataclass(frozen=True, slots=True)
class Settings:
    """What a keeper can set; each field is a key of settings.toml."""

    units: str = "us"
    """Units of the answers ("us" or "metric")."""
    degrees: str = ""
    """The scale of a temperature said without one: "C", "F", or "": from the other units said."""
    ratio_by: str = "weight"
    """How syrup ratios are measured: "weight" or "volume"."""
    yard: str = "home"
    """The yard a recording belongs to unless said otherwise."""
    engine: str = "auto"
    """"whisper" (PyTorch), "ctranslate2" (int8), or "auto": the faster one here."""
    mite_threshold: str = "manitoba-2021"
    """A set of published thresholds in trade/thresholds.toml."""
    winter_stores: str = ""
    """Honey a hive needs for winter, such as "60 pound" or "18 kilogram"; empty: not set."""
    model: str = "yard"
    """A name of models/catalog.toml."""
    model_folder: str = ""
    """A folder with speech weights of your own; empty: the installed ones."""
    window_days: str = "60"
    """Days that pieces of recordings stay kept as heard, for `add` to go on from them."""


def logbook_path(option: Path | None = None) -> Path:
    """Where the log lives: the option, FIELDVOICE_LOGBOOK, or the user's data folder."""
    if option is not None:
        return option
    named = os.environ.get("FIELDVOICE_LOGBOOK")
    if named:
        return Path(named)
    from platformdirs import user_data_path

    return user_data_path("fieldvoice", appauthor=False) / "logbook.db"


def load_settings(logbook: Path) -> Settings:
    """Read `settings.toml` beside the logbook; no file means the defaults.

    Raises:
        SettingsError: all problems of the file at once, each with its key.
    """
    path = logbook.parent / "settings.toml"
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return Settings()
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(
            f"{path} cannot be read as TOML ({error}); mend or delete it."
        ) from error
    known = {f.name for f in fields(Settings)}
    problems = []
    for key, value in raw.items():
        if key not in known:
            problems.append(f"{key} is not a setting (there are: {', '.join(sorted(known))})")
        elif not isinstance(value, str):
            problems.append(f"{key} must be text in quotes, not {value!r}")
        elif key == "window_days" and not value.isdecimal():
            problems.append(f"{key} = {value!r} is not a whole number of days")
        elif key in CHOICES and value not in CHOICES[key]:
            problems.append(f"{key} = {value!r} is not one of {', '.join(CHOICES[key])}")
    if problems:
        raise SettingsError(f"{path}: {'; '.join(problems)}.")
    return Settings(**raw)
