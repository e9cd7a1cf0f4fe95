"""Decisions are plain functions: drafts in, one step out, and every step can be taken back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.errors import InputError, StaleError
from fieldvoice.review import decisions
from fieldvoice.types import Draft, Entry, Step, Value, When

NOW = datetime(2026, 5, 3, 18, 0, tzinfo=UTC)
ENTRY = Entry("7", "feed", "give", "syrup", "done", quote="fed her", confidence=0.9)
DRAFT = Draft("d1", "r1", 3, "waiting", ENTRY)


def after(step: Step) -> list[Draft]:
    return [change.after for change in step.changes]


def test_confirm_and_reject() -> None:
    assert after(decisions.confirm([DRAFT], NOW)) == [replace(DRAFT, version=4, state="confirmed")]
    assert after(decisions.reject([DRAFT], NOW)) == [replace(DRAFT, version=4, state="rejected")]


def test_a_step_says_what_was_before() -> None:
    step = decisions.edit(DRAFT, replace(ENTRY, item="fondant"), NOW)
    assert step.changes[0].before == DRAFT
    assert step.changes[0].after.entry.item == "fondant"
    assert (step.decision, step.at, step.undoes) == ("edit", NOW, None)


def test_to_give_another_hive_settles_doubts_about_the_hive_only() -> None:
    entry = replace(ENTRY, flags=("hive-assumed", "unit-assumed", "hive-unknown"))
    (given_to,) = after(decisions.assign([replace(DRAFT, entry=entry)], "9", NOW))
    assert given_to.entry.hive == "9"
    assert given_to.entry.flags == ("unit-assumed",)


def test_split_leaves_nothing_confirmed() -> None:
    parts = [replace(ENTRY, hive="4"), replace(ENTRY, hive="5")]
    whole, *children = after(decisions.split(DRAFT, parts, NOW))
    assert whole.state == "split"
    assert [(c.entry, c.state, c.version, c.parent) for c in children] == [
        (part, "waiting", 1, "d1") for part in parts
    ]
    assert len({c.uuid for c in children} | {"d1"}) == 3
    with pytest.raises(InputError, match="two or more"):
        decisions.split(DRAFT, parts[:1], NOW)


@pytest.mark.parametrize(
    ("state", "act"),
    [
        ("confirmed", decisions.confirm),
        ("split", decisions.confirm),
        ("withdrawn", decisions.confirm),
        ("rejected", decisions.reject),
        ("split", decisions.reject),
        ("rejected", lambda drafts, at: decisions.edit(drafts[0], ENTRY, at)),
        ("confirmed", lambda drafts, at: decisions.split(drafts[0], [ENTRY, ENTRY], at)),
        ("rejected", lambda drafts, at: decisions.assign(drafts, "9", at)),
    ],
)
def test_what_is_settled_is_not_decided_on_again(
    state: str, act: Callable[[list[Draft], datetime], Step]
) -> None:
    with pytest.raises(InputError, match=state):
        act([replace(DRAFT, state=state)], NOW)


def test_no_step_without_a_row() -> None:
    with pytest.raises(InputError, match="no row to confirm"):
        decisions.confirm([], NOW)


def test_a_draft_shown_earlier_is_stale() -> None:
    decisions.check_fresh(DRAFT, 3)
    with pytest.raises(StaleError, match="fed her"):
        decisions.check_fresh(DRAFT, 2)


STEPS: list[Callable[[Draft], Step]] = [
    lambda d: decisions.confirm([d], NOW),
    lambda d: decisions.reject([d], NOW),
    lambda d: decisions.edit(d, replace(d.entry, item="fondant"), NOW),
    lambda d: decisions.assign([d], "9", NOW),
    lambda d: decisions.split(d, [d.entry, d.entry], NOW),
]


@given(st.lists(st.sampled_from(STEPS), max_size=6))
def test_undoing_all_steps_gives_the_first_state_again(acts: list[Callable[[Draft], Step]]) -> None:
    now = {DRAFT.uuid: DRAFT}
    steps: list[Step] = []

    def keep(step: Step) -> None:
        for change in step.changes:
            assert change.before == now.get(change.after.uuid)
            now[change.after.uuid] = change.after
        steps.insert(0, step)

    for act in acts:
        try:
            keep(act(now[DRAFT.uuid]))
        except InputError:
            continue  # not allowed in that state
    taken = len(steps)
    for _ in range(taken):
        step = decisions.next_to_undo(steps)
        assert step is not None
        keep(decisions.undo(step, now, NOW))
    assert decisions.next_to_undo(steps) is None
    back = now[DRAFT.uuid]
    assert (back.state, back.entry) == ("waiting", ENTRY)
    assert back.version == DRAFT.version + 2 * taken
    assert {d.state for d in now.values() if d.uuid != DRAFT.uuid} <= {"withdrawn"}


def test_an_undo_can_be_undone() -> None:
    done = decisions.confirm([DRAFT], NOW)
    undone = decisions.undo(done, {"d1": after(done)[0]}, NOW)
    again = decisions.undo(undone, {"d1": after(undone)[0]}, NOW)
    assert after(again)[0].state == "confirmed"
    assert decisions.next_to_undo([undone, done]) is None
    assert decisions.next_to_undo([again, undone, done]) == done


def test_an_earlier_decision_waits_for_the_later_one() -> None:
    first = decisions.edit(DRAFT, replace(ENTRY, item="fondant"), NOW)
    second = decisions.confirm(after(first), NOW)
    with pytest.raises(StaleError, match="undo the later decision first"):
        decisions.undo(first, {"d1": after(second)[0]}, NOW)


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        (replace(ENTRY, kind="food"), "kind 'food' is not one of weather, forage"),
        (replace(ENTRY, action="hand"), "action 'hand'"),
        (replace(ENTRY, status="maybe"), "status 'maybe'"),
        (replace(ENTRY, item=" "), "item is empty"),
        (replace(ENTRY, hive=""), "label is empty"),
        (replace(ENTRY, values=(Value("volume", 1, 1, "cup"),)), "role 'volume'"),
        (replace(ENTRY, values=(Value("count", 5, 4, "frame"),)), "count: 5 to 4 runs backwards"),
        (replace(ENTRY, values=(Value("count", float("nan"), 4, "frame"),)), "runs backwards"),
        (replace(ENTRY, when=When(date(2026, 5, 2), date(2026, 5, 1))), "runs backwards"),
    ],
)
def test_rows_that_cannot_be_kept(entry: Entry, says: str) -> None:
    for act in (
        lambda: decisions.edit(DRAFT, entry, NOW),
        lambda: decisions.split(DRAFT, [ENTRY, entry], NOW),
        lambda: decisions.write("r1", entry, NOW),
    ):
        with pytest.raises(InputError, match=says):
            act()
