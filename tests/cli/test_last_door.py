"""An unforeseen fault becomes one sentence and a file; the exit code is 2."""

import sys
from pathlib import Path

import click
import pytest

from fieldvoice import cli


def test_no_traceback_reaches_a_keeper(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a fault that nobody foresaw")

    monkeypatch.setattr(cli.cli, "main", broken)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    said = capsys.readouterr()
    assert stopped.value.code == 2
    assert "Traceback" not in said.err + said.out
    assert said.err.count("\n") == 1
    (fault,) = tmp_path.rglob("fault.txt")
    assert "a fault that nobody foresaw" in fault.read_text()


def test_stopping_says_that_nothing_was_lost(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def stopped(*_: object, **__: object) -> None:
        raise click.Abort

    monkeypatch.setattr(cli.cli, "main", stopped)
    with pytest.raises(SystemExit) as end:
        cli.main()
    assert end.value.code == 130
    assert "Nothing was lost" in capsys.readouterr().err


def test_commands_are_named_as_their_functions_are() -> None:
    for name in cli.COMMANDS:
        command = cli.cli.get_command(click.Context(cli.cli), name)
        assert command is not None, name
        assert command.help, name
    assert "fieldvoice.cli.add" in sys.modules
