"""What corrections teach, and that the next recording needs fewer of them."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.logbook.drafts import keep_drafts, save_step, waiting_drafts
from fieldvoice.logbook.learnt import decide_respelling
from fieldvoice.logbook.opening import Logbook, open_logbook
from fieldvoice.logbook.recordings import keep_heard, new_uuid
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.pipeline import AddOptions, add_recordings, extract_drafts
from fieldvoice.review import decisions
from fieldvoice.review.labelled import export_labelled
from fieldvoice.review.learning import Respelling, in_use, learnt, misheard
from fieldvoice.review.vocabulary import guess, things, with_role
from fieldvoice.types import Draft, Entry, RecordedAt, Recording, Register, Transcript

MAY = datetime(2026, 5, 9, 10, 20, tzinfo=timezone(timedelta(hours=2)))
SCORE = Path(__file__).parents[1] / "score.py"
GLUE = Entry("7", "feed", "give", "glue", "done", quote="gave her a quart of sir up", start=1.0,
             end=3.0, confidence=0.6)  # fmt: skip


def drafted(logbook: Logbook, rows: Sequence[Entry], text: str = "said") -> tuple[Draft, ...]:
    uuid = new_uuid()
    sha256 = uuid.replace("-", "").ljust(64, "0")
    recording = Recording(
        uuid, sha256, f"/{uuid}.ogg", RecordedAt(MAY, "option"), "home", 9, "heard"
    )
    keep_heard(logbook, recording, Transcript(text, "en", "test", "test", 9.0), MAY)
    keep_drafts(logbook, uuid, rows, MAY)
    return waiting_drafts(logbook, uuid)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "log.db"
    with open_logbook(path, create=True) as logbook:
        add_hive(logbook, "7", "home", MAY)
    return path


@pytest.mark.parametrize(
    ("quote", "item", "now", "pairs"),
    [
        ("a quart of sir up", "syrup", None, {("sir up", "syrup")}),
        ("put the queen exclude on", "queen excluder", None,
         {("queen exclude", "queen excluder")}),
        ("gave her a quart", "syrup", None, set()),  # nothing in it sounds like syrup
        ("two quarts of syrups", "syrup", None, set()),  # singular of what was said
        ("the lid is cracked", "cover", None, set()),  # another word, not another sound
        ("four frames of brewed", None, "four frames of brood", {("brewed", "brood")}),
        ("hive 5 is weak", None, "hive 9 is weak", set()),  # a number is no word to learn
        ("all of it was wrong here", None, "nothing like that was ever said", set()),
    ],
)  # fmt: skip
def test_pairs(quote: str, item: str | None, now: str | None, pairs: set[tuple[str, str]]) -> None:
    before = replace(GLUE, quote=quote)
    after = replace(before, item=item or before.item, quote=now or quote)
    assert misheard(before, after) == pairs


@given(st.text(max_size=60), st.text(max_size=60), st.text(max_size=20))
def test_never_raises_and_learns_no_word_as_itself(old: str, new: str, item: str) -> None:
    before = replace(GLUE, quote=old)
    for heard, meant in misheard(before, replace(before, quote=new, item=item)):
        assert heard
        assert meant
        assert heard != meant


def correct(logbook: Logbook, item: str = "syrup") -> None:
    (draft,) = drafted(logbook, [GLUE])
    save_step(logbook, decisions.edit(draft, replace(GLUE, item=item), MAY))


def test_once_is_chance_twice_is_learnt_and_undo_forgets(path: Path) -> None:
    with open_logbook(path) as logbook:
        correct(logbook)
        assert learnt(logbook) == (Respelling("sir up", "syrup", 1, False, False),)
        (draft,) = drafted(logbook, [GLUE])
        step = decisions.edit(draft, replace(GLUE, item="syrup"), MAY)
        save_step(logbook, step)
        assert in_use(learnt(logbook)) == {"sir up": "syrup"}
        (change,) = step.changes
        save_step(logbook, decisions.undo(step, {change.after.uuid: change.after}, MAY))
        assert in_use(learnt(logbook)) == {}


def test_the_keeper_has_the_last_word(path: Path) -> None:
    with open_logbook(path) as logbook:
        correct(logbook)
        correct(logbook)
        decide_respelling(logbook, "sir up", "syrup", used=False, at=MAY)
        assert in_use(learnt(logbook)) == {}
        decide_respelling(logbook, "Sir  Up", "syrup", used=True, at=MAY)
        assert in_use(learnt(logbook)) == {"sir up": "syrup"}
        assert [r.decided for r in learnt(logbook)] == [True]


MISHEARD = {  # made up, and none of them in the trade's own list
    "fundint": "fondant",
    "robin scream": "robbing screen",
    "chuck brod": "chalkbrood",
    "thymoil": "thymol",
    "pollin paddy": "pollen patty",
}
SAID = (
    "Hive 7. I gave her fundint. I added a robin scream. I saw chuck brod today. "
    "I put thymoil on. I gave her a pollin paddy. Six frames of bees."
)


def added(path: Path, tmp_path: Path, text: str, name: str) -> tuple[Entry, ...]:
    """What `add` drafts from a recording in which `text` was heard: the real extraction."""
    sound = tmp_path / name
    sound.write_bytes(name.encode())
    options = AddOptions(
        recorded_at=MAY.isoformat(),
        hear=lambda *_: Transcript(text, "en", "test", "test", 9.0),
        clock=lambda: MAY,
    )
    (done,) = add_recordings(path, [sound], options)
    assert done.recording is not None, done.problem
    with open_logbook(path) as logbook:
        return tuple(d.entry for d in waiting_drafts(logbook, done.recording.uuid))


@pytest.mark.model
def test_the_next_recording_needs_fewer_corrections(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Corrections: rows that were said and not drafted, and drafts of what was not said."""
    clean = SAID
    for heard, meant in MISHEARD.items():
        clean = clean.replace(heard, meant)
    right = extract_drafts(
        Transcript(clean, "en", "", "", 9.0), MAY, Register(("7",)), AddOptions().settings
    )
    wanted = {(row.kind, row.item) for row in right}
    assert {item for _, item in wanted} == {*MISHEARD.values(), "bees"}
    before = {(row.kind, row.item) for row in added(path, tmp_path, SAID, "one.ogg")}
    with open_logbook(path) as logbook:
        for heard, meant in MISHEARD.items():
            for _ in range(2):
                row = replace(GLUE, quote=f"a {heard} here")
                (draft,) = drafted(logbook, [row])
                now = replace(row, quote=f"a {meant} here")
                save_step(logbook, decisions.edit(draft, now, MAY))
    rows = added(path, tmp_path, SAID, "two.ogg")
    after = {(row.kind, row.item) for row in rows}
    needed = len(wanted ^ before), len(wanted ^ after)
    with capsys.disabled():
        print(f"\ncorrections before and after learning {len(MISHEARD)} words: {needed}")
    assert needed[1] < needed[0]
    assert needed[1] == 0
    assert any("respelled" in row.flags for row in rows)


def test_reviewed_recordings_in_the_format_of_the_scorer(path: Path, tmp_path: Path) -> None:
    """The scorer reads them; a command that gives the labels back scores all right."""
    text = "gave her a quart of syrup. Nothing else."
    row = replace(GLUE, quote="gave her a quart of syrup", flags=("heard-unsurely",))
    wrong = replace(GLUE, item="nothing", quote="Nothing else")
    with open_logbook(path) as logbook:
        first, second = drafted(logbook, [row, wrong], text)
        plain = drafted(logbook, [row])
        save_step(logbook, decisions.confirm(plain, MAY))
        drafted(logbook, [row])  # waits
        save_step(logbook, decisions.edit(first, replace(row, item="syrup"), MAY))
        (first, *_) = (d for d in waiting_drafts(logbook, first.recording) if d.uuid == first.uuid)
        save_step(logbook, decisions.confirm([first], MAY))
        save_step(logbook, decisions.reject([second], MAY))
        done = export_labelled(logbook, tmp_path / "labels")
    assert (len(done.written), done.waiting, done.untouched) == (1, 1, 1)
    gold = json.loads(done.written[0].read_text(encoding="utf-8"))
    assert gold["text"] == text
    assert gold["register"] == ["7"]
    assert gold["recorded_at"] == "2026-05-09T10:20"
    assert [(r["item"], r["flags"]) for r in gold["entries"]] == [("syrup", [])]
    assert [r["item"] for r in gold["rejected"]] == ["nothing"]
    told = tmp_path / "told.json"
    told.write_text(json.dumps(gold["entries"]), encoding="utf-8")
    scored = subprocess.run(
        [sys.executable, SCORE, done.written[0], "--with", f"cat {told}"],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    assert "1.00" in scored.stdout or "100" in scored.stdout, scored.stdout


def test_an_undone_correction_is_none(path: Path, tmp_path: Path) -> None:
    with open_logbook(path) as logbook:
        (draft,) = drafted(logbook, [GLUE])
        step = decisions.reject([draft], MAY)
        save_step(logbook, step)
        now = {draft.uuid: step.changes[0].after}
        undo = decisions.undo(step, now, MAY)
        save_step(logbook, undo)
        save_step(logbook, decisions.confirm([undo.changes[0].after], MAY))
        assert export_labelled(logbook, tmp_path).untouched == 1


@pytest.mark.parametrize(
    ("typed", "role", "text"),
    [
        ("2 quarts", None, "amount 2 quart"),
        ("2 qts", "amount", "amount 2 quart"),
        ("about 4 to 6 frames", None, "count about 4 to 6 frame"),
        ("1:1", None, "ratio 1:1"),
        ("3:2", "amount", "ratio 3:2"),
        ("35 degrees fahrenheit", None, "temperature 35 degF"),
        ("count 3 boxes", None, "count 3 box"),
        ("6 bees", None, "count 6 bees"),
        ("12", "count", "count 12"),
        ("20 pounds", "weight", "weight 20 pound"),
        ("sample 0.5 cup", None, "sample 0.5 cup"),
    ],
)
def test_numbers_as_a_keeper_types_them(typed: str, role: str | None, text: str) -> None:
    assert with_role(typed, role) == text


def test_every_name_of_the_trade_is_guessed_as_itself() -> None:
    wrong = [name for name, kind in things().items() if guess(name)[::2] != (kind, name)]
    assert len(wrong) <= len(things()) * 0.05, wrong


def test_merged_rows_keep_all_that_was_said() -> None:
    first = Draft("a", "r", 1, "waiting", replace(GLUE, details={"colour": "blue"}))
    more = replace(
        GLUE, quote="one to one", start=4.0, end=5.0, details={"place": "top"}, flags=("x",)
    )
    step = decisions.merge([first, Draft("b", "r", 3, "waiting", more)], MAY)
    merged, gone = (change.after for change in step.changes)
    assert (merged.entry.start, merged.entry.end) == (1.0, 5.0)
    assert dict(merged.entry.details) == {"colour": "blue", "place": "top"}
    assert merged.entry.flags == ("x",)
    assert gone.state == "withdrawn"
    other = Draft("c", "r", 1, "waiting", replace(GLUE, hive="8"))
    from fieldvoice.errors import InputError

    with pytest.raises(InputError, match="one hive and one kind"):
        decisions.merge([first, other], MAY)
