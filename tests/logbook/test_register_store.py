"""Yards, hives and the names they go by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from makers import MAY, SYRUP, drafted

from fieldvoice.errors import InputError, LogbookError
from fieldvoice.logbook.drafts import get_drafts, save_step
from fieldvoice.logbook.entries import Filter, log_rows
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.register import (
    clean_label,
    find_hive,
    hives,
    need_hive,
    read_register,
    read_register_of,
    yards,
)
from fieldvoice.logbook.register_changes import (
    add_alias,
    add_hive,
    add_yard,
    drop_alias,
    rename_hive,
    rename_yard,
    retire_hive,
)
from fieldvoice.review import decisions
from fieldvoice.types import Draft, Register


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Any]:
    with open_logbook(tmp_path / "log.db", create=True) as opened:
        yield opened


def test_no_logbook_no_hives_and_none_made(tmp_path: Path) -> None:
    assert read_register_of(tmp_path / "log.db") == Register()
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "log.db").write_text("x")
    with pytest.raises(LogbookError):
        read_register_of(tmp_path / "log.db")


def test_hives_stay_in_walking_order(logbook: Any, tmp_path: Path) -> None:
    for label in ("12", "3", "nuc 2"):
        add_hive(logbook, label, "home", MAY)
    add_hive(logbook, "A3", "mill", MAY)
    add_hive(logbook, "3", "mill", MAY)
    assert read_register(logbook).labels == ("12", "3", "nuc 2", "A3")
    assert read_register(logbook, "Mill").labels == ("A3", "3", "12", "nuc 2")
    assert read_register_of(tmp_path / "log.db", "mill").labels[0] == "A3"
    assert [(y.name, y.hives) for y in yards(logbook)] == [("home", 3), ("mill", 2)]


@pytest.mark.parametrize(
    ("name", "label"),
    [("7", "7"), ("Hive 7", "7"), ("hive", "hive"), ("the blue one", "blue one"),
     ("  nuc   2 ", "nuc 2"), ("Theo", "Theo"), ("colony A3", "A3")],
)  # fmt: skip
def test_labels_as_they_are_said(name: str, label: str) -> None:
    assert clean_label(name) == label


@pytest.mark.parametrize("name", ["", "  ", "all", "Hive ALL", "x" * 41, "7\x00", "hive\u202e7"])
def test_what_cannot_name_a_hive(name: str) -> None:
    with pytest.raises(InputError):
        clean_label(name)


@given(st.text(max_size=60))
def test_any_label_is_clean_or_refused(name: str) -> None:
    try:
        label = clean_label(name)
    except InputError:
        return
    assert label == " ".join(label.split())
    assert 1 <= len(label) <= 40


def test_a_hive_goes_by_other_names(logbook: Any) -> None:
    seven = add_hive(logbook, "7", "home", MAY)
    eight = add_hive(logbook, "8", "home", MAY)
    add_alias(logbook, seven, "The Blue One", MAY)
    add_alias(logbook, seven, "blue one", MAY)  # the same again
    assert need_hive(logbook, "the blue one").label == "7"
    assert read_register(logbook).aliases == {"blue one": "7"}
    with pytest.raises(InputError, match="name of hive 7 already"):
        add_alias(logbook, eight, "blue one", MAY)
    with pytest.raises(InputError, match="name of hive 8 already"):
        add_alias(logbook, seven, "8", MAY)
    drop_alias(logbook, need_hive(logbook, "7"), "BLUE ONE")
    assert find_hive(logbook, "blue one") is None
    with pytest.raises(InputError, match="no other name of hive 7"):
        drop_alias(logbook, need_hive(logbook, "7"), "blue one")


def test_a_label_is_there_once_in_a_yard(logbook: Any) -> None:
    add_hive(logbook, "A3", "home", MAY)
    with pytest.raises(InputError, match="hive a3 at home already"):
        add_hive(logbook, "a3", "home", MAY)
    add_hive(logbook, "A3", "mill", MAY)
    with pytest.raises(InputError, match="at home and mill; say which with --yard"):
        find_hive(logbook, "A3")
    assert need_hive(logbook, "A3", "mill").yard == "mill"


def test_a_hive_of_another_yard_is_not_the_one_asked_for(logbook: Any) -> None:
    add_hive(logbook, "7", "home", MAY)
    add_yard(logbook, "mill", MAY)
    assert find_hive(logbook, "7", "mill") is not None  # a visit may stray to another yard
    with pytest.raises(InputError, match="no hive 7 at mill"):
        need_hive(logbook, "7", "mill")
    with pytest.raises(InputError, match=r"no yard bog .known: home, mill"):
        need_hive(logbook, "7", "bog")


def test_a_renamed_hive_keeps_its_rows_and_its_old_name(logbook: Any) -> None:
    seven = add_hive(logbook, "7", "home", MAY)
    save_step(logbook, decisions.confirm(drafted(logbook, [SYRUP]), MAY))
    rename_hive(logbook, seven, "queen of hearts", MAY)
    hive = need_hive(logbook, "7")
    assert (hive.label, hive.aliases) == ("queen of hearts", ("7",))
    assert [r.entry.hive for r in log_rows(logbook, Filter(hive=hive))] == ["queen of hearts"]
    # The old label goes to a new hive; from then on it means that one.
    add_hive(logbook, "7", "home", MAY)
    assert need_hive(logbook, "7").label == "7"
    assert need_hive(logbook, "queen of hearts").aliases == ()
    with pytest.raises(InputError, match="hive 7 at home already"):
        rename_hive(logbook, hive, "7", MAY)


def test_a_renamed_yard_keeps_its_hives(logbook: Any) -> None:
    add_hive(logbook, "7", "home", MAY)
    add_yard(logbook, "mill", MAY)
    rename_yard(logbook, "Home", "orchard")
    assert need_hive(logbook, "7").yard == "orchard"
    with pytest.raises(InputError, match="yard MILL already"):
        rename_yard(logbook, "orchard", "MILL")
    with pytest.raises(InputError, match="no yard home"):
        rename_yard(logbook, "home", "x")


def test_a_retired_hive_leaves_its_history(logbook: Any) -> None:
    seven = add_hive(logbook, "7", "home", MAY)
    save_step(logbook, decisions.confirm(drafted(logbook, [SYRUP]), MAY))
    retire_hive(logbook, seven, MAY)
    assert read_register(logbook) == Register()
    assert find_hive(logbook, "7") is None
    gone = need_hive(logbook, "7", retired=True)
    assert gone.retired
    assert len(log_rows(logbook, Filter(hive=gone))) == 1
    # Its label is free for another hive, which starts without a history.
    new = add_hive(logbook, "7", "home", MAY)
    assert log_rows(logbook, Filter(hive=new)) == ()
    assert [h.retired for h in hives(logbook, retired=True)] == [True, False]


def test_a_row_stays_with_its_hive_when_the_label_moves_on(logbook: Any) -> None:
    seven = add_hive(logbook, "7", "home", MAY)
    (draft,) = drafted(logbook, [SYRUP])
    save_step(logbook, decisions.confirm([draft], MAY))
    rename_hive(logbook, seven, "old seven", MAY)
    new = add_hive(logbook, "7", "home", MAY)
    now = get_drafts(logbook, [draft.uuid])[draft.uuid]
    save_step(logbook, decisions.edit(now, replace(SYRUP, item="sugar"), MAY))
    assert log_rows(logbook, Filter(hive=new)) == ()
    (row,) = log_rows(logbook, Filter(hive=need_hive(logbook, "old seven")))
    assert (row.entry.hive, row.entry.item) == ("old seven", "sugar")


def test_a_row_of_a_retired_hive_can_be_edited_and_brought_back(logbook: Any) -> None:
    seven = add_hive(logbook, "7", "home", MAY)
    drafts = drafted(logbook, [SYRUP, replace(SYRUP, item="sugar")])
    draft, later = drafts
    save_step(logbook, decisions.confirm([draft], MAY))
    retire_hive(logbook, seven, MAY)

    def now() -> dict[str, Draft]:
        return get_drafts(logbook, [draft.uuid])

    save_step(logbook, decisions.edit(now()[draft.uuid], replace(SYRUP, item="fondant"), MAY))
    away = decisions.reject([now()[draft.uuid]], MAY)
    save_step(logbook, away)
    assert log_rows(logbook) == ()
    save_step(logbook, decisions.undo(away, now(), MAY))
    assert [row.entry.item for row in log_rows(logbook)] == ["fondant"]
    with pytest.raises(InputError, match="Hive 7 is not in the register"):
        save_step(logbook, decisions.confirm([later], MAY))
