"""`hive`, `log`, `export`, `yard` and `hives` through the installed command."""

from __future__ import annotations

import csv
import io
import json
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from logbook_makers import entries
from makers import EGGS, MAY, SYRUP, drafted

from fieldvoice.logbook.drafts import save_step
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.review import decisions
from fieldvoice.wire import entry_from_json

Command = Callable[..., Any]


def fill(path: Path, *visits: list[Any]) -> None:
    with open_logbook(path, create=True) as opened:
        for label in ("7", "8", "A3", "nuc 2", "blue"):
            add_hive(opened, label, "home", MAY)
        for number, rows in enumerate(visits):
            drafts = drafted(opened, rows, number, MAY + timedelta(days=number))
            save_step(opened, decisions.confirm(drafts, MAY))


def test_the_history_of_a_hive(path: Path, command: Command) -> None:
    fill(path, [SYRUP, EGGS], [replace(SYRUP, quote="two more")])
    told = command("hive", "hive 7").out
    assert told.index("Mon 2026-05-04 09:30, home") < told.index("Sun 2026-05-03 09:30, home")
    assert "feed: give syrup, done, 2 quarts, 2:1" in told
    assert "no eggs" not in told
    rows = command("hive", "7", "--json").json()
    assert [row["quote"] for row in rows] == ["two more", SYRUP.quote]
    assert rows[1]["recorded_at"] == "2026-05-03T09:30:00+02:00"
    assert entry_from_json(rows[1]) == SYRUP


def test_filters(path: Path, command: Command) -> None:
    fill(path, [SYRUP, EGGS], [replace(SYRUP, quote="two more", status="planned")])

    def quotes(*options: str) -> list[str]:
        return [row["quote"] for row in command("log", "--json", *options).json()]

    assert quotes() == ["two more", SYRUP.quote, EGGS.quote]
    assert quotes("--since", "2026-05-04") == ["two more"]
    assert quotes("--until", "2026-05-03", "--kind", "brood") == [EGGS.quote]
    assert quotes("--status", "planned", "--hive", "7", "--yard", "home") == ["two more"]
    assert quotes("--search", "quarts") == [SYRUP.quote]
    assert command("log", "--kind", "harvest").out.startswith("No rows; a draft counts once")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["hive", "99"], "no hive 99 in the register (known: 7, 8, A3, nuc 2, blue)"),
        (["log", "--hive", "99"], "no hive 99"),
        (["log", "--yard", "bog"], "no yard bog (known: home)"),
        (["log", "--search", " "], "at least one word"),
        (["hives", "add", "7"], "hive 7 at home already"),
        (["hives", "rename", "99", "1"], "no hive 99"),
        (["hives", "retire", "99"], "no hive 99"),
        (["hives", "alias", "8", "7"], "name of hive 7 already"),
        (["yard", "rename", "bog", "x"], "no yard bog"),
        (["yard", "add", ""], "cannot name a yard"),
        (["export", "--csv", "/no/such/folder/x.csv"], "No such file"),
    ],
)
def test_bad_input_is_one_sentence(
    path: Path, command: Command, words: list[str], says: str
) -> None:
    fill(path)
    assert says in command(*words).sentence()


@pytest.mark.parametrize(
    "words",
    [
        ["log", "--since", "yesterday"],
        ["log", "--since", "2026-05-04", "--until", "2026-05-03"],
        ["log", "--kind", "food"],
        ["export"],
        ["add"],
    ],
)
def test_bad_options_end_with_code_2(path: Path, command: Command, words: list[str]) -> None:
    fill(path)
    done = command(*words)
    assert done.code == 2
    assert "Error: " in done.err


@pytest.mark.parametrize(
    "words", [["hive", "7"], ["log"], ["drafts"], ["review"], ["hives"], ["yard"],
              ["export", "--csv", "x.csv"]]
)  # fmt: skip
def test_without_a_logbook_each_says_how_to_start(
    path: Path, command: Command, words: list[str]
) -> None:
    assert "`fieldvoice add RECORDING` starts one" in command(*words).sentence()
    assert not path.exists()


def test_the_register(path: Path, command: Command) -> None:
    assert command("hives", "add", "7", "8", "nuc 2").out == "At home: 7, 8, nuc 2.\n"
    command("hives", "add", "--yard", "mill", "M1")
    command("hives", "alias", "7", "the blue one")
    command("hives", "rename", "8", "8A")
    command("hives", "retire", "nuc 2")
    command("yard", "rename", "mill", "old mill")
    assert command("hives").out == "home: 7 (blue one)\nhome: 8A (8)\nold mill: M1\n"
    assert "nuc 2, retired" in command("hives", "--all").out
    assert command("hives", "--yard", "old mill", "--json").json() == [
        {"label": "M1", "yard": "old mill", "aliases": [], "retired": False}
    ]
    assert command("yard", "--json").json() == [
        {"name": "home", "hives": 2}, {"name": "old mill", "hives": 1},
    ]  # fmt: skip
    assert command("hive", "the blue one").out.startswith("Hive 7 (blue one), home")
    command("hives", "alias", "7", "blue one", "--remove")
    assert "no hive the blue one" in command("hive", "the blue one").sentence()


def test_hives_are_added_all_or_none(path: Path, command: Command) -> None:
    assert "already" in command("hives", "add", "1", "2", "1").sentence()
    assert command("hives", "--json").json() == []


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(rows=st.lists(entries, min_size=1, max_size=5))
def test_rows_come_out_of_the_command_as_they_went_in(
    tmp_path_factory: pytest.TempPathFactory, command: Command, rows: list[Any]
) -> None:
    folder = tmp_path_factory.mktemp("log")
    path = folder / "log.db"
    fill(path, rows)
    rows = [replace(row, because=(), confidence=round(row.confidence, 3)) for row in rows]
    out = command("--logbook", path, "log", "--json").json()
    assert sorted(map(repr, map(entry_from_json, out))) == sorted(map(repr, rows))
    done = command(
        "--logbook", path, "export", "--csv", folder / "x.csv", "--json", folder / "x.json"
    )
    assert done.code == 0
    assert json.loads((folder / "x.json").read_text("utf-8")) == out
    table = io.StringIO((folder / "x.csv").read_bytes().decode("utf-8"), newline="")
    lines = list(csv.DictReader(table))
    assert [line["id"] for line in lines] == [row["id"] for row in out]
    assert [json.loads(line["values_json"]) for line in lines] == [row["values"] for row in out]
    assert [line["quote"] for line in lines] == [row["quote"] for row in out]


def test_an_export_is_whole_or_not_there(path: Path, command: Command, tmp_path: Path) -> None:
    fill(path, [SYRUP])
    file = tmp_path / "out" / "log.csv"
    file.parent.mkdir()
    file.write_text("last year's")
    file.parent.chmod(0o755)
    (tmp_path / "out" / "folder.csv").mkdir()
    done = command("export", "--csv", tmp_path / "out" / "folder.csv")
    assert done.code == 2
    assert command("export", "--csv", file).out == f"1 row written to {file}.\n"
    assert file.read_text().startswith("id,recorded_at,yard,hive,kind")
    assert sorted(p.name for p in file.parent.iterdir()) == ["folder.csv", "log.csv"]


@pytest.mark.parametrize(
    "name", ["add", "drafts", "review", "hive", "log", "yard", "hives", "export"]
)
def test_every_command_helps_with_an_example(command: Command, name: str) -> None:
    started = time.monotonic()
    done = command(name, "--help")
    assert done.code == 0
    assert "Example" in done.out
    assert time.monotonic() - started < 5.0


@pytest.mark.parametrize(
    ("typed", "told"),
    [("revieww", "Did you mean `fieldvoice review`?"), ("mite", "`fieldvoice mites`"),
     ("qqq", "`fieldvoice --help` lists them all.")],
)  # fmt: skip
def test_a_command_that_is_none_is_told_with_what_it_may_have_been(
    command: Command, typed: str, told: str
) -> None:
    done = command(typed)
    assert (done.code, done.out) == (2, "")
    assert f"There is no command '{typed}'." in done.err
    assert told in done.err
