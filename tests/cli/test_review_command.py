"""Review in the terminal, with the keys a keeper presses, through the installed command."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from makers import EGGS, MAY, SYRUP, drafted, query

from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.types import Because

Command = Callable[..., Any]

NEW = replace(
    SYRUP, hive="12", quote="and twelve got two quarts", start=20.0, end=22.0,
    flags=("hive-unknown",), confidence=0.7,
    because=(Because("hive", "twelve", "hive-unknown"),),
)  # fmt: skip
SKY = replace(SYRUP, hive=None, kind="weather", action="see", item="sun", status="seen",
              values=(), quote="sunny", start=1.0, end=2.0)  # fmt: skip


@pytest.fixture
def logbook(path: Path) -> Path:
    """Two plain drafts and two doubtful ones: EGGS at 0.55, NEW at 0.7."""
    with open_logbook(path, create=True) as opened:
        for label in ("7", "8"):
            add_hive(opened, label, "home", MAY)
        drafted(opened, [SKY, SYRUP, NEW, EGGS])
    return path


def hives(rows: list[dict[str, Any]]) -> list[str | None]:
    return [row["hive"] for row in rows]


def log(command: Command) -> list[dict[str, Any]]:
    rows = command("log", "--json").json()
    assert isinstance(rows, list)
    return rows


def test_drafts_doubtful_first_with_their_reasons(logbook: Path, command: Command) -> None:
    told = command("drafts").out
    order = ["no eggs in eight", "and twelve got", "sunny", "gave her two quarts"]
    assert sorted(order, key=told.index) == order
    assert '! this hive is not in the register ("twelve")' in told
    assert "! a word was not heard surely" in told
    assert "2 quarts, 2:1" in told
    assert "1 stretch of speech gave no words." in told
    assert "4 waiting" in told
    raw = command("drafts", "--json").json()
    assert hives(raw) == ["8", "12", None, "7"]
    assert raw[0]["flags"] == ["heard-unsurely"]
    assert (raw[0]["version"], raw[0]["yard"], raw[0]["path"]) == (1, "home", "/recorder/1.ogg")


def test_confirm_reject_and_quit(logbook: Path, command: Command) -> None:
    done = command("review", "--terminal", answers="c\nr\nq\n")
    assert done.code == 0
    assert "2 drafts wait" in done.out
    assert "at 0:30, 55% sure" in done.out
    assert hives(log(command)) == ["8"]
    assert hives(command("drafts", "--json").json()) == [None, "7"]


def test_each_decision_is_kept_when_the_input_just_ends(logbook: Path, command: Command) -> None:
    assert command("review", "--terminal", answers="c\n").code == 0
    assert hives(log(command)) == ["8"]
    assert query(logbook, "SELECT decision FROM history") == [("confirm",)]


def test_accept_unflagged_is_one_act(logbook: Path, command: Command) -> None:
    done = command("review", "--accept-unflagged")
    assert done.code == 0
    assert "2 rows without a flag confirmed." in done.out
    assert hives(log(command)) == [None, "7"]
    assert query(logbook, "SELECT count(*), count(DISTINCT step) FROM history") == [(2, 1)]
    assert "Undone: confirm of" in command("review", "--undo").out
    assert log(command) == []
    assert len(command("drafts", "--json").json()) == 4
    assert "nothing to undo" in command("review", "--undo").out


def test_a_new_hive_comes_into_the_register_after_asking(logbook: Path, command: Command) -> None:
    no = command("review", "--terminal", answers="n\nc\nn\nq\n")
    assert "Hive 12 is not in the register. Add it to home?" in no.out
    assert log(command) == []
    assert [h["label"] for h in command("hives", "--json").json()] == ["7", "8"]
    assert command("review", "--terminal", answers="n\nc\ny\nq\n").code == 0
    assert hives(log(command)) == ["12"]
    assert [h["label"] for h in command("hives", "--json").json()] == ["7", "8", "12"]


def test_another_hive(logbook: Path, command: Command) -> None:
    command("review", "--terminal", answers="n\nh hive 7\nc\nq\n")
    (row,) = log(command)
    assert (row["hive"], row["quote"], row["flags"]) == ("7", "and twelve got two quarts", [])


def test_edit_any_field(logbook: Path, command: Command) -> None:
    answers = [
        "e status planned", "e values count 2 to 3 egg", "e when by 2026-05-10",
        "e details place=front", "e item queen cell", "e kind queen", "e action remove",
        "e quote no cells in eight", "c", "q",
    ]  # fmt: skip
    done = command("review", "--terminal", answers="\n".join(answers) + "\n")
    (row,) = log(command)
    assert {k: row[k] for k in ("kind", "action", "item", "status", "details", "quote")} == {
        "kind": "queen", "action": "remove", "item": "queen cell", "status": "planned",
        "details": {"place": "front"}, "quote": "no cells in eight",
    }  # fmt: skip
    assert row["when"] == {"from": "2026-05-03", "to": "2026-05-10"}
    assert row["values"] == [
        {"role": "count", "lo": 2.0, "hi": 3.0, "unit": "egg", "approx": False,
         "said": "count 2 to 3 egg"}
    ]  # fmt: skip
    assert done.out.count("by 2026-05-10") + done.out.count("2026-05-03 to 2026-05-10") >= 1


def test_edit_by_asking_and_a_slip_is_told(logbook: Path, command: Command) -> None:
    done = command(
        "review", "--terminal", answers="e\nkind\nfood\ncolour\nitem\negg pattern\n\nx\nc\nq\n"
    )
    assert "kind 'food' is not one of weather" in done.out
    assert "There is no field 'colour'" in done.out
    assert "c            confirm" in done.out  # what x showed
    assert [row["item"] for row in log(command)] == ["egg pattern"]


def test_split(logbook: Path, command: Command) -> None:
    command("review", "--terminal", answers="n\ns 7, 8\nc\nc\nq\n")
    assert sorted(hives(log(command))) == ["7", "8"]
    assert {row["quote"] for row in log(command)} == {"and twelve got two quarts"}


def test_undo_in_the_middle(logbook: Path, command: Command) -> None:
    done = command("review", "--terminal", answers="r\nu\nc\nq\n")
    assert 'Undone: reject of "no eggs in eight"' in done.out
    assert hives(log(command)) == ["8"]
    assert query(logbook, "SELECT decision FROM history ORDER BY id") == [
        ("reject",), ("undo",), ("confirm",),
    ]  # fmt: skip


def test_speech_without_words_is_shown_at_the_end(logbook: Path, command: Command) -> None:
    done = command(
        "review", "--terminal", answers="a\nr\nr\nw\nitem\nmouse guard\nkind\nequipment\n\nc\nc\n"
    )
    assert "speech that gave no words" in done.out
    assert "0:33 to 0:35" in done.out
    (written,) = command("drafts", "--json").json()
    assert (written["item"], written["start"], written["end"]) == ("mouse guard", 33.0, 35.5)
    assert "gave no words" not in command("drafts").out


def test_to_play_without_the_recording(logbook: Path, command: Command) -> None:
    done = command("review", "--terminal", answers="p\nq\n")
    assert "/recorder/1.ogg" in done.out
    assert "moved, deleted or changed" in done.out


def test_a_change_from_elsewhere_is_not_overwritten(logbook: Path) -> None:
    """Two sittings: what one decided is told to the other, and stands."""
    from fieldvoice.cli.review import LogbookDesk
    from fieldvoice.review.desk import Session
    from fieldvoice.review.terminal import review

    said: list[str] = []
    with open_logbook(logbook) as opened, open_logbook(logbook) as elsewhere:
        answers = iter(["c", "q"])

        def ask(prompt: str) -> str:
            answer = next(answers)
            if answer == "c":
                keys = iter(["r", "q"])
                other = Session(LogbookDesk(elsewhere), lambda prompt: next(keys), said.append)
                review(other)
            return answer

        review(Session(LogbookDesk(opened), ask, said.append))
    assert any("changed elsewhere in the meantime" in line for line in said)
    assert query(logbook, "SELECT decision FROM history") == [("reject",)]
    assert query(logbook, "SELECT count(*) FROM entries") == [(0,)]


def test_what_the_keys_do_is_listed() -> None:
    from fieldvoice.review.acts import ACTS
    from fieldvoice.review.terminal import HELP

    assert {line.split()[0] for line in HELP.splitlines()} == {*ACTS, "q"}


def test_a_logbook_that_is_locked_all_the_time(
    logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from click.testing import CliRunner

    from fieldvoice.cli import cli
    from fieldvoice.errors import LogbookError
    from fieldvoice.logbook import opening

    monkeypatch.setattr(opening.open_logbook.__wrapped__, "__kwdefaults__",
                        {"create": False, "write": False, "busy_seconds": 0.1})  # fmt: skip
    other = sqlite3.connect(logbook, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    done = CliRunner().invoke(cli, ["--logbook", str(logbook), "review"])
    other.close()
    assert isinstance(done.exception, LogbookError)
    assert "locked by another program" in str(done.exception)
