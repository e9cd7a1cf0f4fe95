"""Drafts made anew while a recording grows: nothing twice, nothing decided is touched."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from makers import EGGS, HEARD, MAY, SYRUP, recording

from fieldvoice.logbook.drafts import drafts_of, keep_drafts, save_step, steps, waiting_drafts
from fieldvoice.logbook.entries import Filter, log_rows
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import growing_hash, keep_heard, recordings, unheard_of
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.logbook.renewing import Known, renewed
from fieldvoice.review import decisions
from fieldvoice.types import Draft, Entry

SWARM = replace(SYRUP, kind="queen", action="see", item="swarm cell", quote="two swarm cells", start=50.0, end=52.0)  # fmt: skip
ROWS = (SYRUP, replace(SYRUP, hive="8"), EGGS, SWARM)


@pytest.mark.parametrize(
    ("entry", "new"),
    [
        (SYRUP, False),
        (replace(SYRUP, confidence=0.5), False),
        (replace(SYRUP, hive="8", start=12.0), False),  # the hive was understood otherwise
        (replace(SYRUP, item="fondant"), True),
        (replace(SYRUP, start=90.0, end=92.0), True),
    ],
)
def test_a_decided_fact_comes_back_only_as_another(entry: Entry, *, new: bool) -> None:
    left, gone = renewed([Known("a", SYRUP, decided=True)], [entry])
    assert left == ((entry,) if new else ())
    assert gone == ()


def test_one_sentence_on_two_hives_is_two_facts() -> None:
    two = [SYRUP, replace(SYRUP, hive="8")]
    assert renewed([Known("a", SYRUP, decided=True)], two) == ((two[1],), ())
    read_again = [replace(row, confidence=0.4) for row in two[::-1]]
    assert renewed([Known("a", SYRUP, decided=True)], read_again) == ((read_again[0],), ())


@given(st.lists(st.tuples(st.sampled_from(ROWS), st.booleans())), st.lists(st.sampled_from(ROWS)))
def test_every_fact_is_there_as_often_as_it_was_read(
    before: list[tuple[Entry, bool]], entries: list[Entry]
) -> None:
    known = [Known(str(n), entry, decided) for n, (entry, decided) in enumerate(before)]
    new, gone = renewed(known, entries)
    assert not {k.uuid for k in known if k.decided} & set(gone)
    stay = [k.entry for k in known if k.uuid not in gone]
    for row in ROWS:
        decided = sum(k.decided and k.entry == row for k in known)
        assert stay.count(row) + new.count(row) <= max(entries.count(row), decided)
    again = [*(k for k in known if k.uuid not in gone), *(Known("n", e, False) for e in new)]
    assert renewed(again, entries) == ((), ())


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Any]:
    with open_logbook(tmp_path / "log.db", create=True) as opened:
        for label in ("7", "8"):
            add_hive(opened, label, "home", MAY)
        yield opened


def test_what_was_decided_while_it_grew_stays_when_it_is_whole(logbook: Any) -> None:
    grown = replace(recording(), sha256=growing_hash("s"))

    def grow(*entries: Entry) -> tuple[Draft, ...]:
        kept = keep_heard(logbook, grown, replace(HEARD, unheard=()), MAY, "s")
        keep_drafts(logbook, kept.uuid, entries, MAY)
        return waiting_drafts(logbook, kept.uuid)

    wrong = replace(SYRUP, hive="8", start=60.0, end=61.0)
    grow(SYRUP, EGGS)
    syrup, eggs, other = grow(SYRUP, EGGS, wrong)
    save_step(logbook, decisions.confirm([syrup], MAY))
    save_step(logbook, decisions.edit(eggs, replace(EGGS, hive="7"), MAY))
    grow(replace(SYRUP, confidence=0.2), EGGS, wrong)

    whole = keep_heard(logbook, recording(), HEARD, MAY, "s")
    keep_drafts(logbook, whole.uuid, [SYRUP, EGGS, SWARM], MAY)
    (only,) = recordings(logbook)
    assert (only.sha256, only.path, only.stage) == (recording().sha256, recording().path, "drafted")
    assert only.uuid == grown.uuid
    rows = {d.entry.item: (d.state, d.entry.hive, d.uuid) for d in drafts_of(logbook, only.uuid)}
    assert rows["syrup"] == ("confirmed", "7", syrup.uuid)
    assert rows["egg"] == ("waiting", "7", eggs.uuid)
    assert rows["swarm cell"][0] == "waiting"
    assert len(rows) == len(drafts_of(logbook, only.uuid))  # the one read wrongly is gone
    assert other.uuid not in {d.uuid for d in drafts_of(logbook, only.uuid)}
    assert [row.entry.item for row in log_rows(logbook, Filter())] == ["syrup"]
    assert len(list(steps(logbook))) == 2
    assert unheard_of(logbook, only.uuid) == HEARD.unheard

    assert keep_heard(logbook, recording(), HEARD, MAY, "s").uuid == whole.uuid
    keep_drafts(logbook, whole.uuid, [SWARM, SWARM], MAY)  # drafted is drafted
    assert len(drafts_of(logbook, only.uuid)) == 3


def test_a_row_split_while_it_grew_stays_split(logbook: Any) -> None:
    grown = replace(recording(), sha256=growing_hash("s"))
    kept = keep_heard(logbook, grown, HEARD, MAY, "s")
    keep_drafts(logbook, kept.uuid, [SYRUP], MAY)
    (draft,) = waiting_drafts(logbook, kept.uuid)
    parts = [replace(SYRUP, quote="two quarts"), replace(SYRUP, hive="8")]
    save_step(logbook, decisions.split(draft, parts, MAY))
    whole = keep_heard(logbook, recording(), HEARD, MAY, "s")
    keep_drafts(logbook, whole.uuid, [SYRUP, EGGS], MAY)
    assert [d.entry for d in waiting_drafts(logbook, whole.uuid)] == [*parts, EGGS]
