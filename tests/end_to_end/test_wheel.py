"""A wheel carries models and demo, and finds them where it is installed."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from keeper import NAMES

ROOT = Path(__file__).parent.parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    pip("wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(folder), str(ROOT))
    return next(folder.glob("fieldvoice-*.whl"))


def pip(*words: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pip", "--quiet", *words],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def test_what_is_in_it(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    assert "fieldvoice/models/catalog.toml" in names
    for name in NAMES:
        assert {f"fieldvoice/demo/{name}.ogg", f"fieldvoice/demo/gold/{name}.json"} <= names
    data = {p.relative_to(ROOT).as_posix() for p in (ROOT / "fieldvoice").rglob("*.toml")}
    assert data <= names


def test_an_install_finds_its_own(wheel: Path, tmp_path: Path) -> None:
    pip("install", "--no-deps", "--target", str(tmp_path), str(wheel))
    code = (
        "import fieldvoice.locate as l; print(l.__file__);"
        "print(l.shipped('models') / 'catalog.toml'); print(l.shipped('demo') / 'orchard-may.ogg')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
        env={"PYTHONPATH": str(tmp_path)},
    )
    module, catalog, recording = map(Path, done.stdout.split())
    assert module.is_relative_to(tmp_path)
    for found in (catalog, recording):
        assert found.is_relative_to(tmp_path)
        assert found.is_file()
