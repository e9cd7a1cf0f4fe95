"""The keeper's data: export against its schema and back, old tables, backup, restore, merge."""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import season as invented
from click.testing import CliRunner
from hypothesis import HealthCheck, Phase, given, settings
from logbook_makers import entries
from makers import EGGS, MAY, SYRUP, drafted

from fieldvoice.answers.export_schema import export_schema
from fieldvoice.answers.history import rows_to_csv, rows_to_json
from fieldvoice.answers.reading_in import read_written
from fieldvoice.cli import cli
from fieldvoice.errors import InputError, LogbookError
from fieldvoice.logbook.backup import backup, check, restore
from fieldvoice.logbook.decided import Decided, decide
from fieldvoice.logbook.drafts import get_drafts, keep_drafts, save_step, waiting_drafts
from fieldvoice.logbook.entries import log_rows
from fieldvoice.logbook.importing import Imported, import_rows
from fieldvoice.logbook.medicines import LabelRecord, Purchase, add_label, add_purchase, labels
from fieldvoice.logbook.merging import merge
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import growing_hash, keep_heard, new_uuid
from fieldvoice.logbook.register import hives
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.types import Change, RecordedAt, Recording, Step, Transcript


def exported(path: Path) -> str:
    with open_logbook(path) as logbook:
        return rows_to_json(log_rows(logbook))


def bring_in(path: Path, file: Path, **more: Any) -> Imported:
    rows = read_written(file, more.get("columns", {}), more.get("fixed", {}), "home", MAY)
    with open_logbook(path, create=True) as logbook:
        return import_rows(logbook, rows, str(file), MAY, add_hives=True)


def test_the_export_fits_its_schema(season_path: Path) -> None:
    rows = json.loads(exported(season_path))
    schema = export_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    checker = jsonschema.Draft202012Validator(
        schema, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    assert len(rows) > 2500
    assert list(checker.iter_errors(rows)) == []
    for spoil in (
        lambda r: r.pop("hive"), lambda r: r.update(kind="song"), lambda r: r.update(more=1),
        lambda r: r.update(confidence=2), lambda r: r["values"].append({"role": "amount"}),
    ):  # fmt: skip
        broken = json.loads(json.dumps(rows[:1]))
        spoil(broken[0])
        assert list(checker.iter_errors(broken))


@pytest.mark.parametrize("ending", ["csv", "json"])
def test_an_export_comes_back_as_the_same_rows(
    season_path: Path, tmp_path: Path, ending: str
) -> None:
    with open_logbook(season_path) as logbook:
        rows = log_rows(logbook)
        walked = [(h.yard, h.label) for h in hives(logbook)]
    file = tmp_path / f"log.{ending}"
    file.write_text(rows_to_csv(rows) if ending == "csv" else rows_to_json(rows), encoding="utf-8")
    new = tmp_path / "new.db"
    assert bring_in(new, file).rows == len(rows)
    assert exported(new) == rows_to_json(rows)
    assert bring_in(new, file) == Imported(0, len(rows), ())
    with open_logbook(new) as logbook:
        assert sorted((h.yard, h.label) for h in hives(logbook)) == sorted(walked)


@settings(
    max_examples=30,
    phases=[Phase.reuse, Phase.generate],  # each example makes two logbooks: no shrinking
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(entry=entries)
def test_any_row_survives_the_way_out_and_in(tmp_path_factory: Any, entry: Any) -> None:
    folder = tmp_path_factory.mktemp("row")
    with open_logbook(folder / "a.db", create=True) as logbook:
        for label in ("7", "A3", "nuc 2", "blue"):
            add_hive(logbook, label, "home", MAY)
        invented.keep_visit(logbook, invented.Visit(MAY, "home", (entry,)))
        rows = log_rows(logbook)
    (folder / "log.csv").write_text(rows_to_csv(rows), encoding="utf-8", newline="")
    bring_in(folder / "b.db", folder / "log.csv")
    first, second = json.loads(exported(folder / "a.db")), json.loads(exported(folder / "b.db"))
    # flags are told apart by spaces in the CSV; the log's own flags hold none
    if any(" " in flag or not flag.strip() or flag.split() != [flag] for flag in entry.flags):
        first[0]["flags"] = second[0]["flags"] = []
    assert second == first


OLD = """Date,Hive,What,Litres,Remark
2024-04-02,7,fed,1.5,thin syrup
2024-04-09,7,fed,2-3,
2024-04-09,8,fed,,a bit
2024-04-09,8,fed,,a bit
"""
MAPPING = {
    "day": "Date", "hive": "Hive", "value:amount:litre": "Litres", "quote": "Remark",
}  # fmt: skip
FIXED = {"kind": "feed", "action": "give", "item": "Syrup", "status": "done"}


def test_a_table_of_old_records(tmp_path: Path) -> None:
    file = tmp_path / "old.csv"
    file.write_text(OLD, encoding="utf-8-sig")
    done = bring_in(tmp_path / "log.db", file, columns=MAPPING, fixed=FIXED)
    assert (done.rows, done.hives) == (4, ("7", "8"))
    rows = json.loads(exported(tmp_path / "log.db"))
    told = [(r["recorded_at"][:10], r["hive"], r["item"], [(v["lo"], v["hi"], v["unit"]) for v in r["values"]])
            for r in rows]  # fmt: skip
    assert sorted(told) == [
        ("2024-04-02", "7", "syrup", [(1.5, 1.5, "litre")]),
        ("2024-04-09", "7", "syrup", [(2, 3, "litre")]),
        ("2024-04-09", "8", "syrup", []),
        ("2024-04-09", "8", "syrup", []),
    ]
    # the file grows at its top; what was there is not taken twice
    lines = OLD.splitlines()
    file.write_text("\n".join([lines[0], "2024-03-01,7,fed,1,", *lines[1:]]), encoding="utf-8")
    again = bring_in(tmp_path / "log.db", file, columns=MAPPING, fixed=FIXED)
    assert (again.rows, again.known) == (1, 4)


@pytest.mark.parametrize(
    ("change", "columns", "says"),
    [
        (("2024-04-02", "last week"), MAPPING, r"line 2: 'last week' is no day"),
        (("1.5", "some"), MAPPING, r"line 2: 'some' is no number for amount"),
        (("", ""), MAPPING | {"hive": "Colony"}, r"no column 'Colony'; there are"),
        (("", ""), MAPPING | {"size": "What"}, r"'size' is no field"),
        (("", ""), {"hive": "Hive"}, r"which column holds the day"),
        (("", ""), MAPPING | {"kind": "What"}, r"kind 'fed' is none of weather"),
    ],
)
def test_a_table_that_cannot_be_taken_says_why(
    tmp_path: Path, change: tuple[str, str], columns: dict[str, str], says: str
) -> None:
    file = tmp_path / "old.csv"
    file.write_text(OLD.replace(*change) if change[0] else OLD, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        bring_in(tmp_path / "log.db", file, columns=columns, fixed=FIXED)
    assert not (tmp_path / "log.db").exists()


def test_unknown_hives_are_asked_about_first(tmp_path: Path) -> None:
    file = tmp_path / "old.csv"
    file.write_text(OLD, encoding="utf-8")
    rows = read_written(file, MAPPING, FIXED, "home", MAY)
    with open_logbook(tmp_path / "log.db", create=True) as logbook:
        with pytest.raises(InputError, match="Not in the register: 7, 8"):
            import_rows(logbook, rows, "old.csv", MAY, add_hives=False)
        assert log_rows(logbook) == ()


def test_a_backup_opens_and_holds_everything(season_path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    with open_logbook(season_path) as logbook:
        assert backup(logbook, copy) == len(json.loads(exported(season_path)))
        with pytest.raises(InputError, match="there already"):
            backup(logbook, copy)
        with pytest.raises(InputError, match="no folder"):
            backup(logbook, tmp_path / "nowhere" / "copy.db")
    assert exported(copy) == exported(season_path)


def test_a_damaged_backup_is_refused(season_path: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    with open_logbook(season_path) as logbook:
        backup(logbook, copy)
    content = bytearray(copy.read_bytes())
    content[40_000:90_000] = b"\x55" * 50_000
    copy.write_bytes(content)
    with pytest.raises(LogbookError, match="damaged"):
        check(copy)
    (tmp_path / "words.db").write_text("no logbook", encoding="utf-8")
    with pytest.raises(LogbookError, match="damaged or not a logbook"):
        check(tmp_path / "words.db")
    with sqlite3.connect(tmp_path / "songs.db") as other:
        other.execute("CREATE TABLE songs (title TEXT)")
    other.close()
    with pytest.raises(LogbookError, match="no logbook"):
        check(tmp_path / "songs.db")
    with pytest.raises(LogbookError, match="no file"):
        check(tmp_path / "nothing.db")


def test_going_back_to_a_backup_loses_nothing(season_path: Path, tmp_path: Path) -> None:
    present, copy = tmp_path / "log.db", tmp_path / "copy.db"
    shutil.copyfile(season_path, present)
    with open_logbook(present) as logbook:
        backup(logbook, copy)
    before = exported(present)
    with open_logbook(present) as logbook:
        invented.keep_visit(
            logbook, invented.Visit(MAY, "orchard", (invented.row("7", "feed", "give", "syrup"),))
        )
    later = exported(present)
    aside = restore(copy, present, MAY)
    assert exported(present) == before
    assert aside is not None
    assert exported(aside) == later
    assert not list(tmp_path.glob("*.restored"))
    fresh = tmp_path / "elsewhere" / "log.db"
    assert restore(copy, fresh, MAY) is None
    assert exported(fresh) == before


# --- merging -----------------------------------------------------------------


def machine(path: Path, *labels: str) -> None:
    with open_logbook(path, create=True) as logbook:
        for label in labels:
            add_hive(logbook, label, "home", MAY)


def confirm(path: Path, *uuids: str, entry: Any = None) -> None:
    with open_logbook(path) as logbook:
        now = get_drafts(logbook, uuids)
        changes = tuple(
            Change(d, replace(d, version=d.version + 1, state="confirmed", entry=entry or d.entry))
            for d in now.values()
        )
        save_step(logbook, Step(new_uuid(), MAY, "confirm", changes))


def count(path: Path, table: str) -> int:
    with open_logbook(path) as logbook:
        return int(logbook.execute(f"SELECT count(*) FROM {table}").fetchone()[0])


def test_two_machines_become_one(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours.db", tmp_path / "theirs.db"
    machine(ours, "7", "8")
    machine(theirs, "8", "9", "7")
    for path, number, rows in ((ours, 1, [SYRUP]), (theirs, 2, [EGGS, SYRUP])):
        with open_logbook(path) as logbook:
            uuids = [d.uuid for d in drafted(logbook, rows, number, MAY + timedelta(number))]
        confirm(path, *uuids)
    with open_logbook(theirs) as logbook:
        add_label(logbook, LabelRecord("Strips", "strip", "packet"), MAY)
        add_purchase(logbook, Purchase("Strips", MAY.date()), MAY)
        decide(logbook, "a plan", Decided("dropped"), MAY)
    before = theirs.read_bytes()
    with open_logbook(ours) as logbook:
        done = merge(logbook, theirs)
        assert (done.rows, done.recordings, done.hives) == (2, 1, 1)
        assert [h.label for h in hives(logbook)] == ["7", "8", "9"]
        assert [label.product for label in labels(logbook)] == ["Strips"]
        assert len(log_rows(logbook)) == 3
        again = merge(logbook, theirs)
    assert (again.rows, again.recordings, again.hives, again.newer, again.conflicts) == (0,) * 5
    assert theirs.read_bytes() == before
    for table, number in (("entries", 3), ("due_decisions", 1), ("medicine_purchases", 1)):
        assert count(ours, table) == number
    check(ours)


def test_the_later_decision_counts_and_ties_are_told(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours.db", tmp_path / "theirs.db"
    machine(ours, "7", "8")
    with open_logbook(ours) as logbook:
        first, second = drafted(logbook, [SYRUP, EGGS])
        backup(logbook, theirs)
    mended = replace(SYRUP, item="fondant")
    confirm(theirs, first.uuid, entry=mended)
    confirm(theirs, second.uuid)
    confirm(ours, second.uuid, entry=replace(EGGS, item="larva"))
    with open_logbook(ours) as logbook:
        done = merge(logbook, theirs)
        assert (done.newer, done.conflicts) == (1, 1)
        assert {row.entry.item for row in log_rows(logbook)} == {"fondant", "larva"}


def test_a_recording_both_heard_is_not_doubled(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours.db", tmp_path / "theirs.db"
    machine(ours, "7", "8")
    machine(theirs, "7", "8")
    for path, rows in ((ours, [SYRUP, EGGS]), (theirs, [SYRUP, replace(EGGS, item="larva")])):
        with open_logbook(path) as logbook:
            uuids = [d.uuid for d in drafted(logbook, rows, number=5)]
        confirm(path, *uuids)
    with open_logbook(ours) as logbook:
        done = merge(logbook, theirs)
        assert (done.rows, done.recordings, done.to_review) == (0, 0, 1)
        assert len(log_rows(logbook)) == 2
        (waiting,) = waiting_drafts(logbook)
        assert (waiting.entry.item, waiting.entry.flags) == ("larva", ("merged",))
        assert merge(logbook, theirs).to_review == 0


def test_a_merge_leaves_no_copy_and_clears_that_of_one_which_was_killed(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours.db", tmp_path / "theirs.db"
    machine(ours, "7")
    machine(theirs, "8")
    left = tmp_path / ".ours.db-merge"
    left.mkdir()
    (left / "other.db").write_bytes(b"half a copy")
    with open_logbook(ours) as logbook:
        assert merge(logbook, theirs).hives == 1
    assert not list(tmp_path.glob(".*"))


def test_what_is_still_being_recorded_there_is_left_for_the_next_merge(tmp_path: Path) -> None:
    ours, theirs = tmp_path / "ours.db", tmp_path / "theirs.db"
    for path in (ours, theirs):
        machine(path, "7")
    session = "0123abcd-0000"
    whole = Recording(
        new_uuid(), "5" * 64, str(tmp_path / "2026-05-09_102030-0123abcd.flac"),
        RecordedAt(MAY, "option"), "home", 60.0, "heard",
    )  # fmt: skip
    heard = Transcript("Two quarts.", "en", "test", "test", 60.0)
    grown = replace(whole, sha256=growing_hash(session))
    with open_logbook(theirs) as logbook:
        kept = keep_heard(logbook, grown, heard, MAY, session)
        keep_drafts(logbook, kept.uuid, [SYRUP], MAY)
    say = CliRunner().invoke
    said = say(cli, ["--logbook", str(ours), "merge", str(theirs)])
    assert (said.exit_code, count(ours, "recordings"), count(ours, "drafts")) == (0, 0, 0)
    assert "still being made there: 1" in said.output
    with open_logbook(theirs) as logbook:
        keep_heard(logbook, whole, heard, MAY, session)
        keep_drafts(logbook, kept.uuid, [SYRUP, EGGS], MAY)
    said = say(cli, ["--logbook", str(ours), "merge", str(theirs)])
    assert (said.exit_code, count(ours, "recordings"), count(ours, "drafts")) == (0, 1, 2)
    assert "still being made" not in said.output


def test_a_merge_of_the_season_with_itself_changes_nothing(
    season_path: Path, tmp_path: Path
) -> None:
    ours = tmp_path / "ours.db"
    shutil.copyfile(season_path, ours)
    before = exported(ours)
    with open_logbook(ours) as logbook:
        done = merge(logbook, season_path)
    assert (done.rows, done.hives, done.recordings, done.to_review) == (0, 0, 0, 0)
    assert exported(ours) == before


def test_what_is_no_logbook_is_not_merged(tmp_path: Path) -> None:
    machine(tmp_path / "ours.db", "7")
    (tmp_path / "words.db").write_text("no logbook", encoding="utf-8")
    with (
        open_logbook(tmp_path / "ours.db") as logbook,
        pytest.raises(LogbookError, match=r"words\.db"),
    ):
        merge(logbook, tmp_path / "words.db")


def test_csv_of_the_season_has_every_row(season_path: Path) -> None:
    with open_logbook(season_path) as logbook:
        rows = log_rows(logbook)
    read = list(csv.DictReader(rows_to_csv(rows).splitlines()))
    assert len(read) == len(rows)
    assert datetime.fromisoformat(read[0]["recorded_at"]) == rows[0].recorded_at


def test_a_logbook_of_the_first_schema_is_brought_up(tmp_path: Path) -> None:
    from sqlite_utils import Database

    from fieldvoice.logbook.schema import MIGRATIONS, STEPS

    path = tmp_path / "old.db"
    old = Database(path)
    MIGRATIONS.apply(old, stop_before=STEPS[1].__name__)
    old["yards"].insert({"uuid": "y", "name": "home", "added_at": "2025-01-01T08:00:00Z"})
    assert "label_records" not in old.table_names()
    old.close()
    machine(path, "7", "8")
    with open_logbook(path) as logbook:
        (draft, _) = drafted(logbook, [SYRUP, EGGS])
        add_label(logbook, LabelRecord("Strips", "strip", "packet"), MAY)
        assert [label.product for label in labels(logbook)] == ["Strips"]
        assert [row["name"] for row in logbook.query("SELECT name FROM yards")] == ["home"]
        assert draft.entry == SYRUP
