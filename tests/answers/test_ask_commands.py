"""The questions as commands: options, forms, cautions, decisions, sentences for what is wrong."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fieldvoice.cli import cli
from fieldvoice.errors import FieldvoiceError

QUESTIONS = [
    "due", "load", "shopping", "visits", "feed", "mites", "treatments", "supers", "effect",
    "queens", "splits", "stores", "strength", "winter", "equipment", "harvest", "traits",
    "colonies", "losses", "lineage", "medicine",
]  # fmt: skip


@pytest.fixture
def log(season_path: Path, tmp_path: Path) -> Path:
    """A copy that a test may write to."""
    path = tmp_path / "log.db"
    shutil.copyfile(season_path, path)
    return path


@pytest.fixture
def run(season_path: Path) -> Callable[..., Result]:
    """Call a command on the season (or on `log`)."""

    def call(
        *words: str, log: Path = season_path, answers: str = "", fails: bool = False
    ) -> Result:
        done = CliRunner().invoke(
            cli, ["--logbook", str(log), *words], input=answers, env={"COLUMNS": "160"}
        )
        assert (done.exit_code != 0) == fails, done.output
        return done

    return call


@pytest.mark.parametrize("name", QUESTIONS)
@pytest.mark.parametrize("about", [(), ("--yard", "orchard"), ("7",)], ids=["all", "yard", "hive"])
def test_each_question_in_each_form(run: Any, name: str, about: tuple[str, ...]) -> None:
    frame = (*about, "--on", "2025-10-14")
    raw = json.loads(run(name, *frame, "--json").stdout)
    table = list(csv.DictReader(run(name, *frame, "--csv").stdout.splitlines()))
    assert [row.keys() for row in raw["rows"]] == [row.keys() for row in table]
    assert raw["rests_on"]["rows"] == len(raw["rests_on"]["ids"])
    assert all(day <= "2025-10-14" for day in (raw["rests_on"]["to"],) if day)
    text = run(name, *frame).stdout
    assert raw["title"] in text
    if about and "yard" in raw["columns"]:
        assert {row["yard"] for row in raw["rows"]} <= {"orchard"}
    if about == ("7",) and "hive" in raw["columns"] and name not in ("lineage", "splits"):
        # a follow-up of a split is about both halves
        assert {row["hive"] for row in raw["rows"]} <= {"7"}


@pytest.mark.parametrize("name", ["treatments", "supers", "effect", "winter", "medicine", "mites"])
def test_answers_on_treatments_end_with_the_label(run: Any, name: str) -> None:
    raw = json.loads(run(name, "--on", "2025-10-14", "--json").stdout)
    assert "label" in raw["notes"][-1]


def test_a_notifiable_disease_comes_first(run: Any) -> None:
    for words in (
        ("search", "ropey"),
        ("visits", "26", "--on", "2025-07-01"),
        ("log", "--search", "ropey"),
    ):
        first = " ".join(run(*words).output.split())
        assert first.startswith("! Words in these rows can point to a notifiable disease")
        assert "call your bee inspector" in first
    hive = run("hive", "26").output
    assert hive.index("notifiable") < hive.index("see bees")
    assert "notifiable" not in run("search", "eggs", "--hive", "7").output
    answer = run("search", "ropey", "--csv")
    assert "notifiable" in answer.stderr
    assert "notifiable" not in answer.stdout


def test_a_reaction_to_stings_comes_first(run: Any, log: Path) -> None:
    import season as invented

    from fieldvoice.logbook.opening import open_logbook

    stung = invented.row("7", "note", "see", "note", "seen", quote="got stung and I feel dizzy")
    visit = invented.season()[-1]
    with open_logbook(log) as opened:
        later = visit.at.replace(hour=18)
        invented.keep_visit(opened, invented.Visit(later, visit.yard, (stung,)))
    out = " ".join(run("search", "stung", log=log).output.split())
    assert out.startswith("! Words in these rows can mean a dangerous reaction to stings")
    assert "emergency number" in out.partition("Found in")[0]


def test_no_answer_says_what_to_dose(run: Any) -> None:
    for name in QUESTIONS:
        words = run(name, "--on", "2025-09-01").output.lower()
        assert "recommended dose" not in words
        assert "you should treat" not in words


def test_a_retired_hive_answers(run: Any, log: Path) -> None:
    run("hives", "retire", "21", log=log)
    assert "50 to 60 pounds" in run("harvest", "21", "--on", "2025-11-01", log=log).output


# --- syrup -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "key", "expected", "within"),
    [
        # CRC densities: a US gallon of 2:1 holds 7.38 lb of sugar
        (["--want", "1gal", "--ratio", "2:1"], "sugar_kg", 7.38 * 0.45359237, 0.01),
        (["--want", "1l", "--ratio", "1:1"], "sugar_kg", 0.615, 0.001),
        (["--want", "1l", "--ratio", "3:2"], "water_kg", 0.515, 0.001),
        (["--sugar", "25lb", "--ratio", "5:3"], "litres", 3.683 * 3.785411784, 0.05),
        # 4 kg of sugar made up to an imperial gallon is 66.4 % (a county association's recipe)
        (["--want", "1gal", "--ratio", "1.976", "--imperial"], "sugar_kg", 4.0, 0.02),
        # 10 lb of sugar in 10 pints of water: 16.0 pints (published as "about 15")
        (["--sugar", "10lb", "--water", "10pt"], "litres", 16.0 * 0.473176, 0.1),
        # 50 kg of sugar in 30 L of water: 61.4 L of 62.5 %
        (["--sugar", "50kg", "--water", "30l"], "litres", 61.4, 0.2),
        (["--sugar", "50kg", "--water", "30l"], "percent_sugar_by_weight", 62.5, 0.1),
        # 2 lb to an imperial pint is 61.5 %, 1 lb to a pint 44.4 %
        (["--sugar", "2lb", "--water", "1pt", "--imperial"], "percent_sugar_by_weight", 61.5, 0.2),
        (["--sugar", "1lb", "--water", "1pt", "--imperial"], "percent_sugar_by_weight", 44.4, 0.2),
        # by volume: 45.9 % and 62.9 % (a published comparison)
        (["--want", "1gal", "--ratio", "1:1", "--by", "volume"], "percent_sugar_by_weight", 45.9, 0.1),
        (["--want", "1gal", "--ratio", "2:1", "--by", "volume"], "percent_sugar_by_weight", 62.9, 0.1),
        (["--sugar", "2cup", "--water", "1cup"], "percent_sugar_by_weight", 62.9, 0.1),
    ],
)  # fmt: skip
def test_syrup(run: Any, words: list[str], key: str, expected: float, within: float) -> None:
    assert json.loads(run("syrup", *words, "--json").stdout)[key] == pytest.approx(
        expected, abs=within
    )


def test_syrup_says_what_it_assumed(run: Any) -> None:
    out = run("syrup", "--want", "5gal", "--ratio", "2:1").output
    assert "Ratio by weight" in out
    assert "36.90 lb" in out
    assert "crystals" in out
    assert "crystals" not in run("syrup", "--want", "5gal", "--ratio", "1:1").output


@pytest.mark.parametrize(
    "words",
    [
        [], ["--want", "five"], ["--want", "5lb"], ["--want", "5gal", "--ratio", "2 to"],
        ["--sugar", "0lb"], ["--want", "1gal", "--sugar", "1lb"], ["--want", "1gal", "--ratio", "0"],
    ],
)  # fmt: skip
def test_syrup_that_makes_no_sense(run: Any, words: list[str]) -> None:
    assert run("syrup", *words, fails=True).exit_code == 2


def test_too_much_sugar_is_no_syrup(run: Any) -> None:
    done = run("syrup", "--sugar", "10kg", "--water", "1l", fails=True)
    assert isinstance(done.exception, FieldvoiceError)
    assert "no syrup" in str(done.exception)


def test_days_of_a_graft_and_of_a_drone(run: Any) -> None:
    rows = {r["what"]: r for r in json.loads(run("days", "--graft", "2026-05-01", "--json").stdout)}
    assert (rows["emerges"]["from"], rows["emerges"]["to"]) == ("2026-05-12", "2026-05-14")
    drone = run("days", "--egg", "2026-05-01", "--caste", "drone").output
    assert "2026-05-25" in drone.splitlines()[-1]  # 24 days
    assert "not everyone" in run("days", "--mark", "yellow").output
    assert "is none of" in run("days", "--mark", "pink", fails=True).output
    assert "Say one of" in run("days", fails=True).output


def test_honey_by_gallons_frames_and_moisture(run: Any) -> None:
    out = run("honey", "--gallons", "5", "--moisture", "18").output
    assert "59.0 lb" in out  # 11.8 lb a gallon
    assert (
        "17.7 % water: within 18.6 %"
        in run("honey", "--moisture", "18.2", "--correction", "-0.5").output
    )
    assert "48 to 64 lb" in run("honey", "--frames", "8", "--depth", "deep").output
    assert "80 to 90 lb" in run("honey", "--boxes", "1", "--depth", "deep").output
    assert "say --moisture" in run("honey", "--gallons", "5", fails=True).output


# --- deciding ----------------------------------------------------------------


def test_plans_by_id_and_one_by_one(run: Any, log: Path) -> None:
    frame = ("--yard", "orchard", "--on", "2025-10-14")
    rows = json.loads(run("due", *frame, "--json", log=log).stdout)["rows"]
    split = next(r for r in rows if r["what"].startswith("colony: split"))
    fuel = next(r for r in rows if "smoker fuel" in r["what"])
    sugar = next(r for r in rows if "get sugar" in r["what"])
    run("plans", *frame, "--done", split["id"], "--drop", fuel["id"],
        "--move", sugar["id"], "2025-10-20", log=log)  # fmt: skip
    after = {r["id"]: r for r in json.loads(run("due", *frame, "--json", log=log).stdout)["rows"]}
    assert split["id"] not in after
    assert fuel["id"] not in after
    assert after[sugar["id"]]["when"] == "from 2025-10-20"
    assert "smoker fuel" not in run("load", *frame, log=log).output
    whole = int(run("plans", *frame, log=log, answers="q\n").output.split()[-3])
    assert whole >= len(after)
    out = run("plans", *frame, log=log, answers="a\n\nq\n").output
    assert "accepted" in out
    assert f"{whole - 1} left open." in out
    assert "Nothing open has the id" in run("plans", "--done", "zzz", log=log, fails=True).output


def test_the_row_that_did_it_is_kept_with_the_decision(run: Any, log: Path) -> None:
    from fieldvoice.logbook.decided import decisions
    from fieldvoice.logbook.opening import open_logbook

    frame = ("--yard", "orchard", "--on", "2025-10-14")
    rows = json.loads(run("due", *frame, "--json", log=log).stdout)["rows"]
    split = next(r for r in rows if r["what"].startswith("colony: split"))
    run("plans", *frame, "--done", split["id"], log=log)
    with open_logbook(log) as opened:
        (decided,) = decisions(opened).values()
        row = opened.execute("SELECT day, status FROM entries WHERE uuid = ?", [decided.entry])
        assert row.fetchone() == ("2025-05-13", "done")


# --- medicines ---------------------------------------------------------------


def test_the_medicine_record_is_filled_by_the_keeper(run: Any, log: Path) -> None:
    frame = ("--since", "2025-01-01", "--until", "2025-12-31")
    before = json.loads(run("medicine", *frame, "--json", log=log).stdout)["rows"]
    strips = [r for r in before if r["product"] == "Strips"]
    assert {r["batch"] for r in strips} == {None}
    run("medicine", "--bought", "Strips", "--batch", "L1", "--from", "A shop, 1 High Street",
        "--quantity", "40 strips", "--day", "2025-07-30", log=log)  # fmt: skip
    one = [r for r in json.loads(run("medicine", *frame, "--json", log=log).stdout)["rows"]
           if r["product"] == "Strips"]  # fmt: skip
    assert {(r["batch"], r["supplier"]) for r in one} == {("L1", "A shop, 1 High Street")}
    run("medicine", "--bought", "Strips", "--batch", "L2", "--day", "2025-08-01", log=log)
    two = [r for r in json.loads(run("medicine", *frame, "--json", log=log).stdout)["rows"]
           if r["product"] == "Strips"]  # fmt: skip
    assert {r["batch"] for r in two} == {None}  # of two lots nobody can say which it was
    run("medicine", "--note", strips[0]["id"], "batch", "L2", log=log)
    three = json.loads(run("medicine", *frame, "--json", log=log).stdout)["rows"]
    assert next(r for r in three if r["id"] == strips[0]["id"])["batch"] == "L2"
    wrong = run("medicine", "--note", "ffffffff", "batch", "L2", log=log, fails=True)
    assert "0 treatment rows begin with" in str(wrong.exception)


def test_a_label_record_decides_the_window(run: Any, log: Path) -> None:
    frame = ("12", "--on", "2025-10-08", "--json")
    assert "overdue by 8 days" in run("treatments", *frame, log=log).stdout
    run("label", "add", "Strips", "--item", "amitraz strip", "--days", "42-70", "--source",
        "a newer leaflet", "--supers", "off", log=log)  # fmt: skip
    row = json.loads(run("treatments", *frame, log=log).stdout)["rows"][0]
    assert (row["due out"], row["state"]) == ("2025-09-16 to 2025-10-14", "due out now")
    assert "a newer leaflet" in run("label", log=log).output
    run(
        "label",
        "add",
        "Others",
        "--item",
        "amitraz strip",
        "--days",
        "10",
        "--source",
        "x",
        log=log,
    )
    # two products for one word: which one it was cannot be told
    assert "no label record" in run("treatments", *frame, log=log).stdout
    assert run("label", "add", "X", "--item", "y", "--source", "z", "--days", "soon", log=log,
               fails=True).exit_code == 2  # fmt: skip


# --- files -------------------------------------------------------------------


def test_files_are_written(run: Any, log: Path, tmp_path: Path) -> None:
    run("calendar", "--on", "2025-10-14", "--to", str(tmp_path / "due.ics"), log=log)
    assert (tmp_path / "due.ics").read_text(encoding="utf-8").startswith("BEGIN:VCALENDAR")
    run("sheet", "--on", "2025-10-14", "--to", str(tmp_path / "sheet.html"), log=log)
    assert "<section>" in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    run("backup", str(tmp_path / "copy.db"), log=log)
    out = run("restore", str(tmp_path / "copy.db"), log=log, answers="y\n").output
    assert "What was there before is" in out
    out = run("merge", str(tmp_path / "copy.db"), log=log).output
    assert out.startswith("0 rows, 0 recordings and 0 hives")
    schema = json.loads(run("schema").stdout)
    assert schema["type"] == "array"


@pytest.mark.parametrize("what", ["mites", "strength", "feed", "weight", "year"])
def test_pictures(run: Any, tmp_path: Path, what: str) -> None:
    from xml.etree import ElementTree as ET

    svg = tmp_path / f"{what}.svg"
    run("picture", what, "--yard", "orchard", "--on", "2025-11-01", "--to", str(svg))
    root = ET.fromstring(svg.read_text(encoding="utf-8"))
    assert root.tag.endswith("svg")
    comments = svg.read_text(encoding="utf-8")
    assert ("Nothing in the log" in comments) == (what == "weight")  # nothing was weighed


def test_a_mite_picture_shows_every_wash(ask: Any) -> None:
    import matplotlib as mpl

    mpl.use("agg")
    from matplotlib.figure import Figure

    from fieldvoice.answers.mites import mites
    from fieldvoice.answers.pictures import PICTURES

    axes = Figure().add_subplot()
    frame = ask("2025-12-01", hive="2")
    assert PICTURES["mites"](frame, axes) == 1
    (bars,) = axes.containers
    drawn = list(bars.lines[0].get_ydata())
    told = [row[4] for row in mites(frame).rows if row[4] is not None]
    assert drawn == pytest.approx(told)
    step = next(line for line in axes.lines if str(line.get_label()).startswith("threshold"))
    # the set of the settings: 1 until July, 3 in August and September, 10 later
    assert set(step.get_ydata()) <= {1.0, 3.0, 10.0}


def test_a_picture_needs_a_known_ending(run: Any, tmp_path: Path) -> None:
    done = run("picture", "mites", "--to", str(tmp_path / "x.jpg"), fails=True)
    assert "must end in .svg or .png" in done.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("feed", "99"), "There is no hive 99"),
        (("feed", "--yard", "moon"), "There is no yard moon"),
        (("feed", "--since", "2026-02-01", "--until", "2026-01-01"), "is after"),
        (("feed", "--on", "soon"), "is not a day"),
        (("search", "--ratio", "thick"), "is no ratio"),
    ],
)
def test_what_is_wrong_is_one_sentence(run: Any, words: tuple[str, ...], says: str) -> None:
    done = run(*words, fails=True)
    assert says in done.output + str(done.exception)


def test_settings_are_read_beside_the_logbook(run: Any, log: Path) -> None:
    (log.parent / "settings.toml").write_text(
        'units = "metric"\nwinter_stores = "18 kilogram"\nmite_threshold = "bc-2024"\n', "utf-8"
    )
    raw = json.loads(run("feed", "--on", "2025-11-01", "--json", log=log).stdout)
    assert {row["unit"] for row in raw["rows"] if row["unit"]} == {"litre"}
    assert "Wanted: 18 kg" in run("stores", "--on", "2025-11-01", log=log).output
    assert "bc-2024" in run("mites", "--on", "2025-09-01", log=log).output
    (log.parent / "settings.toml").write_text('mite_threshold = "mine"\n', "utf-8")
    done = run("mites", "--on", "2025-09-01", log=log, fails=True)
    assert "is not one of manitoba-2021" in str(done.exception)


def test_a_threshold_of_ones_own(run: Any, log: Path) -> None:
    (log.parent / "settings.toml").write_text('mite_threshold = "mine"\n', "utf-8")
    (log.parent / "thresholds.toml").write_text(
        '[[mites]]\nname = "mine"\nsource = "our club"\ndated = "2025"\n'
        'seasons = [{ from = "01-01", to = "12-31", over = 2, says = "all year" }]\n',
        "utf-8",
    )
    out = run("mites", "--on", "2025-09-01", log=log).output
    assert "Threshold: 2 per 100 (mine: all year; our club, 2025)" in " ".join(out.split())
    (log.parent / "thresholds.toml").write_text("mites = 3", "utf-8")
    done = run("mites", "--on", "2025-09-01", log=log, fails=True)
    assert "thresholds.toml cannot be read" in str(done.exception)


def test_the_history_of_a_hive_between_days(run: Any) -> None:
    out = run("hive", "7", "--since", "2025-05-10", "--until", "2025-05-20").output
    assert "three frames out of seven" in out
    assert "2025-05-27" not in out
    rows = list(
        csv.DictReader(run("hive", "7", "--since", "2025-05-10", "--csv").stdout.splitlines())
    )
    assert "7" in {row["hive"] for row in rows} <= {"7", "all"}


def test_today_is_the_default(run: Any) -> None:
    raw = json.loads(run("visits", "--json").stdout)
    assert str(date.today()) in raw["title"]  # noqa: DTZ011 - the clock of this place is meant
