"""README and DEVELOPERS say what the program does: each command, option, setting, module."""

from __future__ import annotations

import re
import shlex
from dataclasses import fields
from pathlib import Path

import click
import pytest
from module_table import module_table, written_table

from fieldvoice.cli import COMMANDS, cli
from fieldvoice.settings import CHOICES, Settings

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def shell_blocks() -> list[str]:
    """README's fenced blocks that are meant to be typed."""
    return re.findall(r"^```sh\n(.*?)^```$", README, re.M | re.S)


def shown_calls() -> list[list[str]]:
    """Every `fieldvoice ...` line of README's examples, as words without comments."""
    lines = [line for block in shell_blocks() for line in block.splitlines()]
    calls = [shlex.split(line, comments=True) for line in lines if line.startswith("fieldvoice ")]
    return [call[1:] for call in calls]


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_an_example(name: str) -> None:
    assert name in {call[0] for call in shown_calls()}


@pytest.mark.parametrize("call", shown_calls(), ids=" ".join)
def test_each_example_can_be_parsed(call: list[str]) -> None:
    context = click.Context(cli)
    command = cli.get_command(context, call[0])
    assert command is not None
    while isinstance(command, click.Group) and len(call) > 1 and not call[1].startswith("-"):
        call = call[1:]
        context = click.Context(command, parent=context)
        command = command.get_command(context, call[0])
        assert command is not None
    known = {name for option in command.params for name in (*option.opts, *option.secondary_opts)}
    used = {word for word in call if word.startswith("-")}
    assert used <= known


@pytest.mark.parametrize("setting", fields(Settings), ids=lambda setting: setting.name)
def test_each_setting_is_in_the_table_with_its_default(setting) -> None:  # type: ignore[no-untyped-def]
    row = re.search(rf"^\| `{setting.name}` \|(.*)\|$", README, re.M)
    assert row is not None
    assert f'`"{setting.default}"`' in row[1]
    for choice in CHOICES.get(setting.name, ()):
        assert f'`"{choice}"`' in row[1]


def test_the_table_names_no_setting_that_is_not_there() -> None:
    table = README.partition("## Settings")[2].partition("\n## ")[0]
    named = set(re.findall(r"^\| `(\w+)` \|", table, re.M))
    assert named == {setting.name for setting in fields(Settings)}


def test_module_table_equals_the_files_on_disk() -> None:
    assert written_table(DEVELOPERS) == module_table(ROOT / "fieldvoice"), (
        "run: python tests/module_table.py"
    )


def test_every_module_says_what_it_is_for() -> None:
    assert not re.findall(r"^\| `[^`]+` \|  \|$", module_table(ROOT / "fieldvoice"), re.M)


@pytest.mark.parametrize(
    "word", ["label", "acid", "sting", "feed", "notifiable", "never recommends"]
)
def test_cautions_are_given(word: str) -> None:
    cautions = README.partition("## Safety")[2].partition("\n## ")[0]
    assert word in cautions.lower()


def test_each_threat_names_what_tries_it() -> None:
    """Each line of the attack table: a defence, and tests or long runs that are there."""
    table = DEVELOPERS.partition("| who | could |")[2].partition("\n\n")[0]
    lines = [line.strip("| ").split(" | ") for line in table.splitlines()[2:]]
    assert len(lines) >= 12
    for who, could, defence, tried in lines:
        assert who and could and defence
        named = 0
        for file, names in re.findall(r"`(\w+/\w+\.py)`(?:: ((?:`test_\w+`(?:, )?)+))?", tried):
            there = (ROOT / "tests" / file).read_text(encoding="utf-8")
            for name in re.findall(r"test_\w+", names):
                assert f"\ndef {name}(" in there, (who, name)
                named += 1
        assert named >= 1, who
