"""What is installed is what was looked at; what is loaded is what it should be; no pickle is trusted."""

from __future__ import annotations

import ast
import json
import os
import pickle
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from fieldvoice.errors import ModelError
from fieldvoice.extraction.checked import FILES, SUMS
from fieldvoice.hearing import weights
from fieldvoice.hearing.catalog import catalog, known

ROOT = Path(__file__).parent.parent.parent
LOCKS = {
    "build": ROOT / "demo" / "build.lock",
    "torch": ROOT / "demo" / "torch.lock",
    "run": ROOT / "demo" / "requirements.lock",
    "test": ROOT / "tests" / "requirements.lock",
}
HASH = r"--hash=sha256:[0-9a-f]{64}"
PACKAGE = re.compile(rf"^([a-z0-9][\w.-]*)==(\S+)[^\n]*\\\n((?:    {HASH}(?: \\)?\n)+)", re.M)


def locked(name: str) -> dict[str, str]:
    """Packages of a lock and their versions."""
    return {package: version for package, version, _ in PACKAGE.findall(LOCKS[name].read_text())}


@pytest.mark.parametrize("name", LOCKS)
def test_every_line_of_a_lock_is_a_version_with_hashes(name: str) -> None:
    """So no index, no address, no path and no package without a hash stands in it."""
    text = LOCKS[name].read_text(encoding="utf-8")
    left = PACKAGE.sub("", text)
    assert re.fullmatch(r"(#[^\n]*\n)*", left), left
    assert locked(name)
    assert not re.search(r"https?:|://|index|[/@]", re.sub(r"^#.*$", "", text, flags=re.M))


@pytest.mark.parametrize(("name", "extra"), [("run", None), ("test", "test")])
def test_the_locks_are_those_of_the_project(name: str, extra: str | None) -> None:
    """If this fails: pip install '.[lock]' && python tests/relock.py"""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"]]
    if extra:
        wanted += project["optional-dependencies"][extra]
    there = locked(name) | locked("torch") | locked("build")
    for requirement in map(Requirement, wanted):
        version = there.get(canonicalize_name(requirement.name))
        assert version is not None, f"{requirement.name} is in no lock"
        assert requirement.specifier.contains(version), f"{requirement}: {version} is locked"


def test_both_commands_agree_on_what_they_share() -> None:
    run, test = locked("run"), locked("test")
    assert {name: test.get(name) for name in run} == run
    build = locked("build")
    assert all(build[name] == test[name] for name in build.keys() & test.keys())


def test_both_of_readmes_commands_use_them() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    first, second = re.findall(r"^```sh\n(.*?)^```$", readme, re.M | re.S)[:2]
    assert first.startswith("bash demo/install && ")
    assert second == "bash tests/run\n"
    assert "bash demo/install tests/requirements.lock" in (ROOT / "tests" / "run").read_text()
    install = (ROOT / "demo" / "install").read_text(encoding="utf-8")
    for line in re.findall(r"^ *install .*-r .*$", install, re.M):
        assert "--require-hashes" in line
    assert install.count("-r ") == 3


@pytest.mark.parametrize("name", ["tiny.en", "base"])
def test_weights_that_are_not_those_of_the_catalogue_are_not_loaded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setenv("FIELDVOICE_CACHE", str(tmp_path / "cache"))
    good = weights.find_weights(name).folder
    own = tmp_path / "own"
    own.mkdir()
    for file in weights.NEEDED:
        shutil.copy(good / file, own / file)
    assert weights.find_weights(name, str(own)).source == "folder"
    raw = bytearray((own / "model.bin").read_bytes())
    raw[len(raw) // 2] ^= 1  # one bit in the middle of some matrix
    (own / "model.bin").write_bytes(raw)
    with pytest.raises(ModelError, match="is not the speech model"):
        weights.find_weights(name, str(own))


def test_a_hash_stands_beside_every_model_that_can_be_fetched() -> None:
    for model in catalog().values():
        assert model.sha256 or model.official or (model.base and model.adapter_sha256), model.name
        for digest in filter(None, (model.sha256, model.official, model.adapter_sha256)):
            assert re.fullmatch(r"[0-9a-f]{64}", digest), model.name
    assert known("tiny.en").sha256 == (  # taken from the file by another program
        "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
    )


@pytest.fixture
def own_program(tmp_path: Path) -> Path:
    """A copy of the program with its fact model, to be tampered with."""
    ignored = shutil.ignore_patterns("__pycache__", "*.jsonl", "*.py")
    shutil.copytree(ROOT / "models", tmp_path / "models", ignore=ignored)
    shutil.copytree(ROOT / "fieldvoice", tmp_path / "fieldvoice")
    return tmp_path


def extracted(program: Path) -> subprocess.CompletedProcess[str]:
    """What that program makes of a narration."""
    talk = ROOT / "demo" / "orchard-may.txt"
    words = ["extract", talk, "--recorded-at", "2026-05-09", "--json"]
    return subprocess.run(
        [sys.executable, "-P", "-m", "fieldvoice", *words], capture_output=True, text=True,
        check=False, env=os.environ | {"PYTHONPATH": str(program)}, cwd=program,
    )  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_file_of_the_fact_model_with_another_byte_is_not_loaded(
    own_program: Path, name: str
) -> None:
    file = own_program / "models" / "extraction" / name
    raw = bytearray(file.read_bytes())
    raw[len(raw) // 2] ^= 1
    file.write_bytes(raw)
    done = extracted(own_program)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert f"{file}: this is not the file that belongs to the fact model" in done.stderr
    assert "install fieldvoice again" in done.stderr


def test_the_fact_model_is_loaded_only_beside_its_hashes(own_program: Path) -> None:
    """The same copy with nothing changed is taken: it is the hash that refuses."""
    whole = extracted(own_program)
    assert whole.returncode == 0, whole.stderr
    assert len(json.loads(whole.stdout)) > 10
    sums = own_program / "models" / "extraction" / SUMS
    lines = sums.read_text(encoding="ascii").splitlines(keepends=True)
    sums.write_text("".join(lines[:-1]), encoding="ascii")
    short = extracted(own_program)
    assert (short.returncode, short.stdout) == (2, "")
    assert f"it should be in {SUMS}" in short.stderr
    for missing in (sums, sums.with_name("heads.npz")):
        missing.unlink()
        done = extracted(own_program)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.count("\n") == 1
        assert "cannot be read" in done.stderr


def test_the_command_that_seals_writes_what_sha256sum_reads(own_program: Path) -> None:
    folder = own_program / "models" / "extraction"
    (folder / "vocabulary.json").write_text("{}")
    seal = [sys.executable, ROOT / "models" / "extraction" / "seal.py", folder]
    check = ["sha256sum", "--strict", "--check", SUMS]
    assert subprocess.run(check, cwd=folder, capture_output=True, check=False).returncode == 1
    subprocess.run(seal, check=True)
    told = subprocess.run(check, cwd=folder, capture_output=True, text=True, check=True).stdout
    assert [line.split(":")[0] for line in told.splitlines()] == sorted(FILES)


NEVER = {"pickle", "marshal", "shelve", "dill", "joblib", "cloudpickle"}


def test_nothing_unpickles() -> None:
    """Every call that could run what a file says, in the whole package."""
    seen = 0
    for path in (ROOT / "fieldvoice").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Import | ast.ImportFrom):
                names = [alias.name for alias in node.names] + [getattr(node, "module", "") or ""]
                assert not NEVER & {name.partition(".")[0] for name in names}, path
            if isinstance(node, ast.Call):
                called = ast.unparse(node.func)
                given = {k.arg: ast.literal_eval(k.value) for k in node.keywords
                         if isinstance(k.value, ast.Constant)}  # fmt: skip
                assert called not in ("eval", "exec", "compile", "yaml.load", "os.system"), path
                if called == "torch.load":
                    seen += 1
                    assert given.get("weights_only") is True, path
                elif called == "np.load":
                    seen += 1
                    assert given.get("allow_pickle") is False, path
    assert seen >= 2


def test_weights_that_would_run_a_program_are_refused(tmp_path: Path) -> None:
    import torch

    class Evil:
        def __reduce__(self) -> tuple[object, tuple[str]]:
            return Path.touch, (Path(tmp_path / "taken"),)  # type: ignore[return-value]

    file = tmp_path / "model.pt"
    torch.save({"dims": Evil()}, file)
    with pytest.raises(pickle.UnpicklingError, match=r"weights_only|Weights only"):
        torch.load(file, map_location="cpu", weights_only=True)
    heads = tmp_path / "heads.npz"
    np.savez(heads, a=np.array([Evil()], dtype=object))
    with pytest.raises(ValueError, match="pickle"), np.load(heads, allow_pickle=False) as arrays:
        _ = arrays["a"]
    assert not (tmp_path / "taken").exists()
    torch.load(file, map_location="cpu", weights_only=False)  # as a careless program would
    assert (tmp_path / "taken").exists()
