"""What a newcomer meets: help with examples that can be run, completion, and installs that work."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from fieldvoice import __version__
from fieldvoice.cli import COMMANDS, cli
from tests.makers import COMMAND

ROOT = Path(__file__).parent.parent.parent


def commands() -> Iterator[tuple[str, click.Command]]:
    """Every command and the commands below it, by the words that call it."""
    context = click.Context(cli)
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        yield name, command
        if isinstance(command, click.Group):
            for below in command.list_commands(context):
                found = command.get_command(context, below)
                assert found is not None
                yield f"{name} {below}", found


ALL = dict(commands())


def shown_examples(text: str) -> list[list[str]]:
    """The calls that a help ends with, as a shell would read them, without `fieldvoice`."""
    _, heading, lines = text.partition("Example")
    assert heading, text
    joined = lines.partition(":\n")[2].replace("\\\n", " ")
    calls = [shlex.split(line.partition(" > ")[0], comments=True) for line in joined.splitlines()]
    assert all(call[0] == "fieldvoice" for call in calls if call), calls
    return [call[1:] for call in calls if call]


def help_of(*words: str) -> str:
    """What the installed command prints, as a terminal of eighty columns shows it."""
    done = subprocess.run(
        [COMMAND, *words, "--help"], capture_output=True, text=True, check=True,
        env=os.environ | {"COLUMNS": "80"},
    )  # fmt: skip
    return done.stdout


@pytest.mark.parametrize("name", ALL)
def test_help_says_what_it_does_and_ends_with_examples(name: str) -> None:
    command = ALL[name]
    assert command.help
    assert command.help.strip().splitlines()[0].endswith((".", "?"))
    shown = command.get_help(click.Context(command, info_name=name, terminal_width=80))
    about, _, rest = shown.partition("Options:")
    assert max(map(len, shown.splitlines())) <= 80
    assert about
    calls = shown_examples(rest)
    of_this = [call for call in calls if call[: len(name.split())] == name.split()]
    assert of_this == calls
    for option in command.params:
        if isinstance(option, click.Option) and not option.hidden:
            assert option.help, (name, option.opts)


@pytest.mark.parametrize("name", ALL)
def test_its_examples_can_be_typed(name: str) -> None:
    """Each is read by the command it names: its words, options and values fit."""
    for call in shown_examples(ALL[name].epilog or ""):
        words, command = call, cli
        context = click.Context(cli)
        while isinstance(command, click.Group) and words and not words[0].startswith("-"):
            found = command.get_command(context, words[0])
            assert found is not None, call
            command, words = found, words[1:]
        with command.make_context(call[0], list(words), parent=context) as made:
            assert made.params is not None


def test_help_lists_every_command_once_and_none_is_cut_short() -> None:
    shown = help_of()
    listed = re.findall(r"^  ([a-z]+)  +\S", shown, re.M)
    assert listed == list(COMMANDS)
    for name in (name for name, command in ALL.items() if isinstance(command, click.Group)):
        shown += help_of(name)
    assert "..." not in re.sub(r"\[(OPTIONS|ARGS)\]\.\.\.|COMMAND \[ARGS\]\.\.\.", "", shown)
    assert max(map(len, shown.splitlines())) <= 80
    calls = shown_examples(help_of().partition("Options:")[2])
    assert len(calls) >= 4
    assert {call[0] for call in calls} <= set(COMMANDS)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_commands_complete_as_readme_says(shell: str) -> None:
    assert f"{shell}_source" in (ROOT / "README.md").read_text(encoding="utf-8")
    environment = os.environ | {"_FIELDVOICE_COMPLETE": f"{shell}_source"}
    done = subprocess.run([COMMAND], env=environment, capture_output=True, text=True, check=False)
    assert "_FIELDVOICE_COMPLETE" in done.stdout
    asked = {"_FIELDVOICE_COMPLETE": f"{shell}_complete", "COMP_WORDS": "fieldvoice re",
             "COMP_CWORD": "re" if shell == "fish" else "1"}  # fmt: skip
    done = subprocess.run(
        [COMMAND], env=os.environ | asked, capture_output=True, text=True, check=False
    )
    assert {"review", "restore"} <= set(re.findall(r"\w+", done.stdout))


def test_the_version_is_told_and_its_changes_are_listed() -> None:
    done = subprocess.run([COMMAND, "--version"], capture_output=True, text=True, check=True)
    assert (
        done.stdout.strip() == f"fieldvoice, version {__version__}" == "fieldvoice, version 0.1.0"
    )
    pyproject = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    assert f'version = "{__version__}"' in pyproject
    changes = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("\n## Changes\n")[2]
    assert re.findall(r"^### (\S+)", changes, re.M)[0] == __version__


def pip(python: Path | str, *words: str | Path) -> None:
    """pip, which may ask nobody."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PIP_")}
    done = subprocess.run(
        ["unshare", "--net", "--map-root-user", python, "-m", "pip", "--quiet", *words],
        capture_output=True, text=True, check=False,
        env=environment | {"PIP_CONFIG_FILE": os.devnull},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and the source distribution, made without a network."""
    folder = tmp_path_factory.mktemp("dist")
    code = (
        "import sys; from hatchling import build as b; import os\n"
        f"os.chdir({str(ROOT)!r}); b.build_sdist(sys.argv[1]); b.build_wheel(sys.argv[1])\n"
    )
    subprocess.run([sys.executable, "-c", code, folder], check=True, capture_output=True)
    return folder


def test_the_source_distribution_is_whole_and_no_larger_than_it_should_be(built: Path) -> None:
    (source,) = built.glob("*.tar.gz")
    with tarfile.open(source) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    tracked = subprocess.run(
        ["git", "-c", "safe.directory=*", "ls-files", "fieldvoice", "demo", "models"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.split()  # fmt: skip
    assert {name for name in tracked if (ROOT / name).is_file()} <= names | {"models/.gitkeep"}
    top = {name.partition("/")[0] for name in names}
    assert top <= {"", "fieldvoice", "demo", "models", "tests", "README.md", "DEVELOPERS.md",
                   "pyproject.toml", "PKG-INFO", ".gitignore"}  # fmt: skip


def test_a_wheel_and_a_source_install_in_a_fresh_environment(built: Path, tmp_path: Path) -> None:
    """Its dependencies are lent by this environment; fieldvoice itself is the one installed."""
    (wheel,) = built.glob("*.whl")
    (source,) = built.glob("*.tar.gz")
    assert wheel.name == f"fieldvoice-{__version__}-py3-none-any.whl"
    here = Path(next(p for p in sys.path if p.endswith("site-packages")))
    for number, distribution in enumerate((wheel, source)):
        venv = tmp_path / str(number)
        subprocess.run(
            [sys.executable, "-m", "venv", "--without-pip", venv], check=True, capture_output=True
        )
        python = venv / "bin" / "python"
        (site,) = (venv / "lib").glob("python3*/site-packages")
        lent = tmp_path / f"lent-{number}"
        lent.mkdir()
        for package in here.iterdir():
            if "fieldvoice" not in package.name and package.suffix not in (".pth", ".so"):
                (lent / package.name).symlink_to(package)
        (site / "lent.pth").write_text(f"{lent}\n")
        build = ["--no-build-isolation"] if distribution is source else []
        pip(
            sys.executable,
            "--python",
            python,
            "install",
            "--no-deps",
            "--no-index",
            *build,
            distribution,
        )
        done = subprocess.run(
            [venv / "bin" / "fieldvoice", "--version"], capture_output=True, text=True, check=True,
            cwd=tmp_path, env={"PATH": os.environ["PATH"]},
        )  # fmt: skip
        assert done.stdout.strip() == f"fieldvoice, version {__version__}"
        where = subprocess.run(
            [python, "-c", "import fieldvoice; print(fieldvoice.__file__)"],
            capture_output=True, text=True, check=True, cwd=tmp_path,
            env={"PATH": os.environ["PATH"]},
        )  # fmt: skip
        assert Path(where.stdout.strip()).is_relative_to(site)
    assert "fieldvoice/models/extraction/encoder.onnx" in zipfile.ZipFile(wheel).namelist()
