"""Write the lock files anew from pyproject.toml: python tests/relock.py (needs the extra `lock`).

`demo/build.lock` holds what builds packages from source, `demo/torch.lock` torch,
`demo/requirements.lock` what else the program needs, `tests/requirements.lock` that and what
the tests need. Every file of every package is named by its sha256; no index is named, so that
any that serves these files will do. `demo/install` puts them in.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
BUILD = ROOT / "demo" / "build.lock"
TORCH_ALONE = ROOT / "demo" / "torch.lock"
RUN = ROOT / "demo" / "requirements.lock"
TEST = ROOT / "tests" / "requirements.lock"

BUILDERS = "editables\nhatchling>=1.27\nsetuptools>=77\n"  # the last: openai-whisper has no wheel
TORCH = "torch==2.13.0"
# The sha256 of that release's CPU build for CPython 3.11 on x86-64 Linux, whose wheel is not on
# the public index; the files that are there stand beside it.
TORCH_CPU = "6746dbcbeb526eb61330b76b41ff1b4eb848951103a892eeb080dfa2b264667b"
# What the public index's build for graphics cards asks for beside the CPU build's needs: left out,
# since a lock cannot say "only with that file". Its triton is the one version that both take.
# torch itself has a lock of its own: pip would pass over the CPU build's wheel in a folder.
ELSEWHERE = re.compile(r"(nvidia|cuda)-|fieldvoice\b|torch==")
TRITON = "triton==3.7.1"

HEAD = "# Made by tests/relock.py from pyproject.toml; change that and run it again.\n"


def compiled(requirements: str, *more: str) -> str:
    """Requirements as a lock, by uv."""
    with tempfile.NamedTemporaryFile("w", suffix=".in") as file:
        file.write(requirements)
        file.flush()
        command = [
            "uv", "pip", "compile", "--quiet", "--no-config", "--generate-hashes", "--no-header",
            "--no-annotate", "--python-version", "3.11", "--python-platform", "x86_64-manylinux_2_28",
            *more, file.name,
        ]  # fmt: skip
        done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    if done.returncode:
        sys.exit(done.stderr)
    return done.stdout


def blocks(lock: str) -> Iterator[str]:
    """One package each, with its hashes."""
    yield from re.findall(r"^[^\s#].*\n(?:[ \t].*\n)*", lock, re.M)


def of_any_machine(lock: str) -> str:
    """The lock without torch and what only its build for graphics cards asks for."""
    return "".join(block for block in blocks(lock) if not ELSEWHERE.match(block))


def main() -> None:
    """Write the three files."""
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert f'"{TORCH}"' in project
    build = compiled(BUILDERS)
    BUILD.write_text(HEAD + build, encoding="utf-8")
    torch = compiled(TORCH, "--no-deps")
    cpu = f" \\\n    --hash=sha256:{TORCH_CPU} \\\n"
    TORCH_ALONE.write_text(HEAD + torch.replace(" \\\n", cpu, 1), encoding="utf-8")
    here = f"@ {ROOT.as_uri()}\n{TRITON}\n"
    run = compiled(f"fieldvoice {here}", "--constraints", str(BUILD))
    RUN.write_text(HEAD + of_any_machine(run), encoding="utf-8")
    beside = ("--constraints", str(BUILD), "--constraints", str(RUN))
    test = compiled(f"fieldvoice[test] {here}", *beside)
    TEST.write_text(HEAD + of_any_machine(test), encoding="utf-8")
    for path in (BUILD, TORCH_ALONE, RUN, TEST):
        number = len(list(blocks(path.read_text(encoding="utf-8"))))
        print(f"{path.relative_to(ROOT)}: {number} packages")


if __name__ == "__main__":
    main()
