"""The doubtful ones come first, each with its reason; nothing doubtful is let through."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fieldvoice.review.queue import WHY, doubtful_first, open_flags, unflagged, why
from fieldvoice.types import Because, Draft, Entry, Register

ENTRY = Entry("7", "feed", "give", "syrup", "done", quote="fed her", confidence=0.9)
REGISTER = Register(("7", "Nuc 2"), {"blue one": "7"})


def draft(uuid: str, recording: str = "r1", **fields: object) -> Draft:
    return Draft(uuid, recording, 1, "waiting", replace(ENTRY, **fields))


def test_order() -> None:
    drafts = [
        draft("sure", confidence=0.99),
        draft("flagged", flags=("conflict",), confidence=0.8),
        draft("unsure", confidence=0.3),
        draft("doubtful", flags=("conflict",), confidence=0.2),
        draft("next day", "r2", flags=("conflict",), confidence=0.1),
    ]
    assert [d.uuid for d in doubtful_first(drafts, REGISTER)] == [
        "doubtful", "flagged", "sure", "unsure", "next day",
    ]  # fmt: skip


@pytest.mark.parametrize("hive", ["7", "nuc 2", "blue one"])
def test_a_hive_that_is_known_by_now_is_no_doubt(hive: str) -> None:
    one = draft("d", hive=hive, flags=("hive-unknown", "date-unsure"))
    assert open_flags(one, REGISTER) == ("date-unsure",)
    assert open_flags(one, Register()) == ("hive-unknown", "date-unsure")


def test_what_may_be_confirmed_unseen() -> None:
    drafts = [
        draft("plain"),
        draft("flagged", flags=("conflict",)),
        draft("no such hive", hive="99"),
        draft("known by now", hive="Nuc 2", flags=("hive-unknown",)),
        draft("yard", hive=None),
        draft("every hive", hive="all"),
    ]
    assert [d.uuid for d in unflagged(drafts, REGISTER)] == [
        "plain", "known by now", "yard", "every hive",
    ]  # fmt: skip


def test_every_flag_has_plain_words() -> None:
    flags = {"hive-unknown", "hive-assumed", "conflict", "corrected", "heard-unsurely",
             "respelled", "unit-assumed", "out-of-range", "ratio-order", "date-unsure", "unsure-row",
             "marked", "scratched"}  # fmt: skip
    assert set(WHY) == flags
    assert all("-" not in words for words in WHY.values())


def test_why_with_its_words_and_a_flag_to_come() -> None:
    entry = replace(ENTRY, because=(Because("hive", "high seven", "respelled"),))
    assert why("respelled", entry) == f'{WHY["respelled"]} ("high seven")'
    assert why("weight-odd", entry) == "weight odd"
    assert why("unsure-item", entry) == "the item is not sure"
    assert why("unsure-row", entry) == WHY["unsure-row"]
