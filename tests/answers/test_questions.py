"""The twenty-five questions of a keeper on the invented year.

Each expectation is worked out here from the rows as they were invented, by counting in plain
Python; nothing of fieldvoice.answers but the question itself is used for it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, timedelta
from typing import Any

import pytest
from answer_lines import line, lines

from fieldvoice.answers.colonies import colonies, lineage, losses
from fieldvoice.answers.due import due, load, shopping
from fieldvoice.answers.equipment import equipment
from fieldvoice.answers.feed import feed
from fieldvoice.answers.harvest import harvest
from fieldvoice.answers.medicine import medicine
from fieldvoice.answers.mites import mites
from fieldvoice.answers.queens import queens, splits
from fieldvoice.answers.search import Wanted, search
from fieldvoice.answers.stores import stores
from fieldvoice.answers.strength import strength
from fieldvoice.answers.traits import traits
from fieldvoice.answers.treatments import effect, supers, treatments
from fieldvoice.answers.visits import visits
from fieldvoice.answers.winter import winter

POUND = 0.45359237
GALLON = 3.785411784


def value(entry: Any, role: str) -> Any:
    return next((v for v in entry.values if v.role == role), None)


def gallons(entry: Any) -> float | None:
    """The amount of a feed row in US gallons, by the definition of quart and gallon."""
    amount = value(entry, "amount")
    return None if amount is None else amount.lo * {"gallon": 1.0, "quart": 0.25}[amount.unit]


# 1 What do I need to do here today?


def test_01_due_shows_plans_follow_ups_and_what_is_done(ask: Any) -> None:
    answer = due(ask("2025-10-14", yard="orchard"))
    rows = lines(answer)
    split = next(r for r in rows if r["what"].startswith("colony: split"))
    assert "done by the row of 2025-05-13?" in split["state"]
    assert split["because"] == 'if the rain stays away; "I\'ll split seven on Tuesday"'
    five = next(r for r in rows if r["hive"] == "5" and r["what"].startswith("feed: give"))
    assert five["when"] == "now, by 2025-10-19"
    out = next(r for r in rows if r["what"] == "take out the amitraz strip")
    # strips of 12 went in on 5 August; day 56 is 30 September
    assert (out["hive"], out["when"]) == ("12", "overdue 14 days")
    assert "label" in answer.notes[-1]
    assert all(r["yard"] == "orchard" for r in rows)


def test_01_every_follow_up_names_reason_and_source(ask: Any) -> None:
    answer = due(ask("2025-06-20"))
    proposed = [r for r in lines(answer) if r["state"].startswith("proposed")]
    assert len(proposed) >= 5
    whys = [note for note in answer.notes if note.startswith("Why ")]
    for row in proposed:
        assert " on 2025-" in row["because"]  # the row it follows from
        (why,) = [w for w in whys if w.startswith(f"Why {row['what'].split(';')[0]}: ")]
        assert "common practice" in why or "table" in why or "label" in why or "diary" in why


# 2 When was I last in hive N and what did I find?   3 Which are overdue?


def opened_days(said: Any, until: str) -> dict[str, date]:
    """Frames counted, brood, queen or a wash need an open hive."""
    found: dict[str, date] = {}
    for day, _, e in said(until):
        if e.status not in ("done", "seen", "absent") or e.hive is None:
            continue
        frames = any(v.unit == "frame" for v in e.values)
        if e.kind in ("brood", "queen") or frames or (e.kind == "mites" and value(e, "sample")):
            found[e.hive] = day
    return found


def test_02_last_visit_and_what_was_found(ask: Any, said: Any) -> None:
    row = line(visits(ask("2025-06-20", hive="26")), "26")
    day = opened_days(said, "2025-06-20")["26"]
    assert row["last opened"] == day
    assert row["days ago"] == (date(2025, 6, 20) - day).days
    told = [e for d, _, e in said("2025-06-20", hive="26") if d == day and e.status != "planned"]
    assert len(row["found then"].split("; ")) == len(told)


def test_03_overdue_hives(ask: Any, said: Any) -> None:
    opened = opened_days(said, "2025-06-20")
    rows = lines(visits(ask("2025-06-20")))
    overdue = {r["hive"] for r in rows if r["state"] == "overdue"}
    # June: every 10 days (trade/thresholds.toml, common practice)
    expected = {hive for hive, day in opened.items() if (date(2025, 6, 20) - day).days > 10}
    assert expected
    assert overdue == expected
    assert {r["hive"] for r in rows if r["last opened"] == "not looked"} == set()


def test_03_a_heft_is_no_opening(ask: Any, said: Any) -> None:
    rows = lines(visits(ask("2026-02-20", yard="orchard")))
    opened = opened_days(said, "2026-02-20")
    for row in rows:
        assert row["last opened"] == opened[row["hive"]]
        assert row["last look"] >= row["last opened"]
        assert row["state"] == "hives stay shut"
    assert any(row["last look"] > row["last opened"] for row in rows)


# 4 What did I feed hive N, how much, when?


def test_04_feed_of_each_hive(ask: Any, said: Any) -> None:
    sums: dict[tuple[str, float | None], float] = defaultdict(float)
    unsaid: Counter[tuple[str, float | None]] = Counter()
    for _, _, e in said("2025-12-01", kind="feed"):
        if e.status == "planned":
            continue
        ratio = value(e, "ratio")
        key = (e.hive, ratio.lo if ratio else None)
        if gallons(e) is None:
            unsaid[key] += 1
        else:
            sums[key] += gallons(e) or 0
    names = {1: "syrup 1:1", 1.5: "syrup 1.5:1", 2: "syrup 2:1", None: "syrup, ratio not said"}
    rows = {(r["hive"], r["feed"]): r for r in lines(feed(ask("2025-12-01")))}
    assert set(rows) == {(hive, names[ratio]) for hive, ratio in {*sums, *unsaid}}
    for (hive, ratio), total in sums.items():
        assert rows[hive, names[ratio]]["amount"] == pytest.approx(total)
        assert (rows[hive, names[ratio]]["amount not said"] or 0) == unsaid[hive, ratio]
    only_unsaid = set(unsaid) - set(sums)
    assert only_unsaid
    for hive, ratio in only_unsaid:  # unknown is not zero
        assert rows[hive, names[ratio]]["amount"] is None


def test_04_sugar_by_the_printed_pounds_in_a_gallon(ask: Any, said: Any) -> None:
    # CRC densities: 5.13, 6.44 and 7.38 lb of sugar in a US gallon of 1:1, 3:2 and 2:1
    pounds = {1: 5.13, 1.5: 6.44, 2: 7.38}
    expected = sum(
        (gallons(e) or 0) * pounds[value(e, "ratio").lo]
        for _, _, e in said("2025-12-01", kind="feed")
        if e.status != "planned" and value(e, "ratio")
    )
    note = next(n for n in feed(ask("2025-12-01")).notes if n.startswith("Sugar in it"))
    assert float(note.split()[3]) == pytest.approx(expected, rel=0.002)


def test_04_a_feeding_told_afterwards_counts_on_its_day(ask: Any) -> None:
    rows = lines(feed(ask("2025-12-01", hive="5")))
    told = next(r for r in rows if "Friday" in r["words"])
    assert (told["day"], told["amount"]) == (date(2025, 9, 12), "1 gallon")


# 5 Mite trend of a hive


def washes(said: Any, until: str, hive: str) -> list[tuple[date, int, int]]:
    out = []
    for day, _, e in said(until, kind="mites", hive=hive):
        sample = value(e, "sample")
        bees = sample.lo if sample.unit == "bee" else sample.lo * 600
        out.append((day, value(e, "count").lo, bees))
    return out


def test_05_trend_with_intervals_and_treatments(ask: Any, said: Any) -> None:
    from scipy import stats

    answer = mites(ask("2025-12-01", hive="2"))
    counted = [r for r in lines(answer) if r["mites"] is not None]
    expected = washes(said, "2025-12-01", "2")
    assert [(r["day"], r["mites"], r["bees"]) for r in counted] == expected
    before = None
    for row, (_, count, bees) in zip(counted, expected, strict=True):
        interval = stats.binomtest(int(count), int(bees)).proportion_ci(0.95, "wilson")
        assert row["per 100"] == pytest.approx(100 * count / bees)
        assert (row["from"], row["to"]) == pytest.approx((100 * interval.low, 100 * interval.high))
        if before is not None and before[1] + count:
            p = stats.binomtest(
                int(before[1]), int(before[1] + count), before[2] / (before[2] + bees)
            ).pvalue
            same = before[1] == count
            assert same or ("noise" in row["against the one before"]) == (p > 0.05)
        before = (None, count, bees)
    assert [r["how"] for r in lines(answer) if r["mites"] is None] == [
        "give amitraz strip", "remove amitraz strip",
    ]  # fmt: skip


def test_05_no_data_is_not_zero(ask: Any) -> None:
    answer = mites(ask("2025-04-20", hive="2"))
    assert answer.rows == ()
    assert answer.not_looked == ("2",)


# 6 Over threshold, or not tested this month


def test_06_over_threshold_or_not_tested(ask: Any, said: Any) -> None:
    from scipy import stats

    today = date(2025, 9, 1)
    answer = mites(ask("2025-09-01"))
    states = {r["hive"]: r["state"] for r in lines(answer)}
    assert "3 per 100 (manitoba-2021" in answer.notes[0]
    for hive, state in states.items():
        tested = washes(said, "2025-09-01", hive)
        if not tested or (today - tested[-1][0]).days > 30:
            assert state.startswith("not looked")
            continue
        _, count, bees = tested[-1]
        interval = stats.binomtest(int(count), int(bees)).proportion_ci(0.95, "wilson")
        straddles = interval.low < 0.03 <= interval.high
        assert state.startswith("over" if count / bees >= 0.03 else "under")
        assert ("uncertain" in state) == straddles
    kinds = {state.split()[0].strip(",") for state in states.values()}
    assert kinds == {"over", "under", "not"}


def test_06_another_threshold_is_a_setting(ask: Any) -> None:
    answer = mites(ask("2025-09-01", mite_threshold="penn-state"))
    assert answer.notes[0].startswith("Threshold: 5 per 100 (penn-state")
    assert not any(r["state"].startswith("over") for r in lines(answer) if (r["per 100"] or 0) < 5)


# 7 Strips and pads: when on, when due out, which are still in


def test_07_still_in_and_overdue(ask: Any) -> None:
    answer = treatments(ask("2025-10-08", yard="orchard"))
    state = {r["hive"]: r["state"] for r in lines(answer)}
    # in on 5 August with 42 to 56 days by the label record: 16 to 30 September
    assert state["12"] == "overdue by 8 days"
    assert {hive for hive, told in state.items() if told == "out"} == {
        str(n) for n in range(1, 20) if n != 12
    }
    assert line(answer, "12")["due out"] == "2025-09-16 to 2025-09-30"
    assert answer.not_looked == ("nuc 1",)
    assert "label" in answer.notes[-1].lower()


def test_07_without_a_label_record_nothing_is_known(ask: Any, tmp_path: Any, year: Any) -> None:
    import season as invented

    from fieldvoice.answers.ask import Ask
    from fieldvoice.logbook.opening import open_logbook

    with open_logbook(tmp_path / "bare.db", create=True) as bare:
        invented.load(bare, tuple(v for v in year if v.at.date() < date(2025, 9, 1)))
        rows = lines(treatments(Ask(bare, date(2025, 10, 8))))
    assert {r["state"] for r in rows} == {"in, no label record: window unknown"}
    assert {r["due out"] for r in rows} == {None}


def test_07_warmer_than_the_label_record_says(ask: Any, said: Any) -> None:
    warm = {
        day: value(e, "temperature").lo
        for day, yard, e in said("2025-10-08", item="temperature") if yard == "ridge"
    }  # fmt: skip
    for row in lines(treatments(ask("2025-10-08", yard="ridge"))):
        celsius = (warm[row["in"]] - 32) / 1.8
        assert ("°C" in (row["look at"] or "")) == (celsius > 20)


# 8 Is it safe to put supers on, or pull honey?


def test_08_supers(ask: Any) -> None:
    during = {r["hive"]: r for r in lines(supers(ask("2025-09-01", yard="orchard")))}
    assert all(during[str(n)]["state"] == "no" for n in range(1, 20))
    assert "label record says supers off" in during["1"]["because"]
    # out on 30 September, 14 days by the label record: not before 14 October
    assert "not before 2025-10-14" in line(supers(ask("2025-10-13")), "2")["because"]
    clear = line(supers(ask("2025-10-14", since="2025-07-01")), "7")
    assert "amitraz" not in (clear["because"] or "")
    assert "label" in supers(ask("2025-10-14")).notes[-1].lower()


def test_08_fed_lately(ask: Any, said: Any) -> None:
    fed = {
        e.hive: day for day, _, e in said("2025-04-30", kind="feed") if e.status == "done"
    }  # fmt: skip
    for row in lines(supers(ask("2025-04-30"))):
        recent = row["hive"] in fed and (date(2025, 4, 30) - fed[row["hive"]]).days < 14
        assert row["state"] == ("no" if recent else "nothing in the log against it")


# 9 Which hives have no confirmed queen or eggs?


def test_09_queens_without_proof(ask: Any, said: Any) -> None:
    today = date(2025, 6, 20)
    proof: dict[str, date] = {}
    eggless: dict[str, date] = {}
    for day, _, e in said("2025-06-20"):
        if (e.item, e.status) in {("egg", "seen"), ("queen", "seen")} and e.hive:
            proof[e.hive] = day
        if (e.item, e.status) == ("egg", "absent"):
            eggless[e.hive] = day
    for row in lines(queens(ask("2025-06-20"))):
        hive = row["hive"]
        if hive in eggless and eggless[hive] > proof.get(hive, date.min):
            assert row["state"] == f"no eggs since {eggless[hive]}: not confirmed"
        elif (today - proof[hive]).days > 30:
            assert "look again" in row["state"]
        else:
            assert row["state"] in ("eggs seen", "queen seen")
    assert line(queens(ask("2025-06-20")), "nuc 2")["state"].startswith("no eggs since")


def test_09_not_seen_is_not_queenless(ask: Any) -> None:
    row = line(queens(ask("2025-04-15", since="2025-04-15", until="2025-04-15")), "9")
    assert row["queen"] == "none seen 2025-04-15"
    assert "queenless" not in row["state"]


# 10 Are splits and cells on schedule?


def test_10_splits(ask: Any) -> None:
    row = next(r for r in lines(splits(ask("2025-06-01"))) if r["hive"] == "nuc 1")
    made = date(2025, 5, 13)
    # a virgin on day 11 to 13, eggs on day 24 to 30
    assert row["emerges"] == f"{made + timedelta(11)} to {made + timedelta(13)}"
    assert row["look for eggs"] == f"{made + timedelta(24)} to {made + timedelta(30)}"
    assert row["state"] == "leave her alone"
    later = next(r for r in lines(splits(ask("2025-06-11"))) if r["hive"] == "nuc 1")
    assert later["state"] == "eggs seen 2025-06-10"
    late = next(r for r in lines(splits(ask("2025-06-25"))) if r["hive"] == "nuc 2")
    assert late["state"].startswith("no eggs seen, 5 days late")


# 11 What is ready for winter?


def test_11_winter(ask: Any, said: Any) -> None:
    answer = winter(ask("2025-11-05", yard="orchard", winter_stores="40 pound"))
    rows = {r["hive"]: r for r in lines(answer)}
    guards = {e.hive for _, _, e in said("2025-11-05", item="mouse guard")}
    wraps = {e.hive for _, _, e in said("2025-11-05", item="wrap")}
    frames = {e.hive: value(e, "count").lo for _, _, e in said("2025-11-05", item="bees")}
    for hive, row in rows.items():
        assert row["guard"].startswith("yes") == (hive in guards)
        assert row["guard"].startswith("unknown") == (hive not in guards)
        assert row["wrap"].startswith("yes") == (hive in wraps)
        wanted = "unknown" if hive not in frames else "yes" if frames[hive] >= 6 else "no"
        assert row["6 frames"].startswith(wanted)
    assert rows["12"]["strips out"].startswith("no: amitraz strip in since")
    assert rows["1"]["strips out"] == "yes"
    assert rows["nuc 1"]["strips out"] == "none put in"
    assert not any("score" in column for column in answer.columns)


# 12 How much more feed? sugar to buy?   16 Which are light?


def test_12_feed_still_needed(ask: Any, said: Any) -> None:
    last: dict[str, Any] = {}
    for day, _, e in said("2025-11-01", kind="stores"):
        if e.item != "super" and day >= date(2025, 7, 4):
            last[e.hive] = e
    answer = stores(ask("2025-11-01", winter_stores="60 pound"))
    low = high = 0.0
    for row in lines(answer):
        e = last.get(row["hive"])
        if e is None:
            assert row["short, lb"] is None
            assert row["hive"] in answer.not_looked
            continue
        frames = value(e, "count").lo  # a full deep frame: 6 to 8 lb
        assert (row["honey, lb"], row["up to"]) == (6 * frames, 8 * frames)
        assert row["short, lb"] == pytest.approx(max(0, 60 - 8 * frames))
        assert row["gallons up to"] == pytest.approx(max(0, 60 - 6 * frames) / 7)
        low, high = low + max(0, 60 - 8 * frames), high + max(0, 60 - 6 * frames)
    note = answer.notes[-1]
    assert f"{low:.0f} to {high:.0f} lb short" in note
    sugar = [float(n) for n in note.partition("2:1, ")[2].split(" lb")[0].split(" to ")]
    assert sugar == pytest.approx([low / 7 * 7.38, high / 7 * 7.38], abs=1)
    assert any("Unknown" in n for n in answer.notes)


# 13 How much syrup: see test_check_values.py and test_ask_commands.py.


# 14 What is on hive N?


def test_14_equipment(ask: Any, said: Any) -> None:
    for hive in ("1", "14", "30"):
        on: Counter[str] = Counter()
        for _, _, e in said("2025-11-05", hive=hive):
            if e.kind == "equipment" and e.action == "add":
                on[e.item] += 1
            if e.kind == "harvest":
                on["super"] = max(0, on["super"] - int(value(e, "count").lo))
        rows = {r["item"]: r for r in lines(equipment(ask("2025-11-05", hive=hive)))}
        assert {item: row["on"] for item, row in rows.items() if row["on"] is not None} == dict(on)
    floor = next(
        r for r in lines(equipment(ask("2025-11-05", hive="14"))) if r["item"] == "bottom board"
    )
    assert (floor["on"], floor["state"]) == (None, "new")
    assert "not known" in equipment(ask("2025-11-05", hive="14")).notes[0]


# 15 What to load for a yard


def test_15_load(ask: Any) -> None:
    rows = {r["thing"]: r for r in lines(load(ask("2025-10-14", yard="orchard")))}
    assert rows["syrup 2:1"]["amount"] == 1
    assert rows["syrup 2:1"]["unit"] == "gallon"
    assert (rows["syrup, ratio not said"]["amount"], rows["syrup, ratio not said"]["for"]) == (
        None,
        "11",
    )
    assert rows["sugar"]["amount"] == 100
    ridge = {r["thing"]: r for r in lines(load(ask("2025-10-14", yard="ridge")))}
    assert ridge["bottom board"]["for"] == "24"
    assert ridge["sugar"]["amount"] == 50


def test_15_shopping_of_all_yards(ask: Any) -> None:
    answer = shopping(ask("2025-10-14"))
    rows = {r["thing"]: r for r in lines(answer)}
    assert rows["sugar"]["amount"] == 150
    assert (rows["smoker fuel"]["amount"], rows["smoker fuel"]["amount not said"]) == (None, 1)
    assert "7 lb" in next(n for n in answer.notes if n.startswith("Sugar in the planned"))


# 16 and 17: strong and weak, and who needs room


def test_16_strength(ask: Any, said: Any) -> None:
    last: dict[str, tuple[date, float]] = {}
    for day, _, e in said("2025-06-20", item="bees"):
        last[e.hive] = (day, value(e, "count").lo)
    for row in lines(strength(ask("2025-06-20"))):
        day, frames = last[row["hive"]]
        assert row["bees on"] == f"{frames:g} frames"
        assert row["told on"] == day
        assert (row["bees, from"], row["to"]) == (1400 * frames, 3000 * frames)


def test_17_room(ask: Any, said: Any) -> None:
    full = {
        e.hive for day, _, e in said("2025-06-20", kind="stores", item="super")
        if value(e, "share") and value(e, "share").lo >= 0.7 and day >= date(2025, 4, 21)
    }  # fmt: skip
    asks = {r["hive"] for r in lines(strength(ask("2025-06-20"))) if r["room"]}
    assert full
    assert asks == full


# 18 Which queens: age, colour, source


def test_18_marks_and_years(ask: Any, said: Any) -> None:
    row = line(queens(ask("2025-06-04")), "12")
    assert row["came"] == "2025-05-27, from 3"
    assert row["year"] == 2025
    years = {"blue": 2025, "green": 2024, "red": 2023}
    colour: dict[str, str] = {}
    for _, _, e in said("2025-06-04"):
        if e.item == "queen" and e.details.get("colour"):
            colour[e.hive] = e.details["colour"]
    for row in lines(queens(ask("2025-06-04"))):
        assert row["mark"] == colour.get(row["hive"])
        if row["hive"] != "12":
            assert row["year"] == years.get(colour.get(row["hive"], ""))
    later = line(queens(ask("2026-03-17")), "12")
    assert later["year"] == 2025


# 19 Mean, swarmy, spotty


def test_19_traits(ask: Any, said: Any) -> None:
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for _, _, e in said("2025-11-05"):
        how = e.details.get("condition", "")
        if e.item == "temper" and how in ("testy", "hot"):
            counts[e.hive]["mean"] += 1
        if e.item == "queen cell":
            counts[e.hive]["swarmy"] += 1
        if e.item == "brood pattern" and how == "spotty":
            counts[e.hive]["spotty"] += 1
    for row in lines(traits(ask("2025-11-05"))):
        for name in ("mean", "swarmy", "spotty"):
            assert row[name] == counts[row["hive"]][name], (row["hive"], name)


# 20 Did the treatment work?


def test_20_effect(ask: Any, said: Any) -> None:
    rows = {r["hive"]: r for r in lines(effect(ask("2025-11-05", yard="orchard")))}
    assert rows["12"]["out"] == "still in"
    assert rows["12"]["fell by, %"] is None
    compared = 0
    for hive, row in rows.items():
        if hive == "12":
            continue
        tested = washes(said, "2025-11-05", hive)
        before = [w for w in tested if date(2025, 7, 6) <= w[0] <= date(2025, 8, 5)]
        after = [w for w in tested if w[0] > date(2025, 9, 30)]
        if not before or not after:
            assert row["look at"].startswith("no wash")
            continue
        compared += 1
        first, last = before[-1][1] / before[-1][2], after[0][1] / after[0][2]
        assert row["fell by, %"] == pytest.approx(100 * (1 - last / first))
        soon = (after[0][0] - date(2025, 9, 30)).days < 10
        assert (row["look at"] is not None) == soon
    assert compared >= 4


# 21 The medicine record


def test_21_medicine_record(ask: Any) -> None:
    answer = medicine(ask("2025-12-31", since="2025-01-01"))
    rows = lines(answer)
    assert len(rows) == 19 + 10
    strip = next(r for r in rows if r["hive"] == "1")
    assert (strip["product"], strip["dose"], strip["withdrawal, days"]) == ("Strips", "2 strips", 0)
    assert (strip["from"], strip["to"], strip["days"]) == (date(2025, 8, 5), date(2025, 9, 30), 56)
    missing = next(n for n in answer.notes if n.startswith("Missing"))
    assert missing.count("batch, supplier") == 29
    assert any("five years" in n for n in answer.notes)


# 22 Harvest


def test_22_harvest(ask: Any) -> None:
    answer = harvest(ask("2025-11-05"))
    rows = {r["hive"]: r for r in lines(answer)}
    assert rows["1"]["lb"] == 28
    assert (rows["13"]["lb"], rows["13"]["not weighed"]) == (None, 1)
    assert (rows["21"]["lb"], rows["21"]["up to"]) == (50, 60)
    # twelve hives with 28 lb; eight with 50 to 60
    assert any(
        n.startswith("orchard: 336 lb in 12 weighed harvests, 2 not weighed") for n in answer.notes
    )
    assert any(n.startswith("ridge: 400 to 480 lb in 8") for n in answer.notes)
    assert any("Average of the 20 hives with a weight: 36.8 lb" in n for n in answer.notes)
    one = lines(harvest(ask("2025-11-05", hive="21")))[0]
    assert one["against published limits"].startswith("over 18.6 % (US Grade A and B")
    metric = harvest(ask("2025-11-05", units="metric"))
    assert line(metric, "1")["kg"] == pytest.approx(28 * POUND)


# 23 How many colonies, and moves


def test_23_colonies(ask: Any) -> None:
    count = {r["yard"]: r["colonies"] for r in lines(colonies(ask("2025-04-30")))}
    assert count == {"orchard": 19, "ridge": 19}
    count = {r["yard"]: r["colonies"] for r in lines(colonies(ask("2025-06-30")))}
    assert count == {"orchard": 20, "ridge": 20}  # two nucs made in May
    answer = colonies(ask("2026-03-17"))
    count = {r["yard"]: r["colonies"] for r in lines(answer)}
    assert count == {"orchard": 18, "ridge": 19}  # 9 combined, 18 and 33 dead
    assert any("hive 3, ridge" in n for n in answer.notes)


# 24 Losses


def test_24_losses(ask: Any, said: Any) -> None:
    answer = losses(ask("2026-03-17"))
    assert answer.notes[0].startswith("2 of 40 colonies alive on 2025-10-01 died (5 %)")
    row = line(answer, "18")
    assert (row["how"], row["words"]) == ("dead", "starved")
    frames = [value(e, "count").lo for _, _, e in said("2026-01-05", hive="18", item="bees")]
    assert row["strength before"].startswith(f"{frames[-1]:g} frames")
    assert line(answer, "9")["how"] == "combined"


# 25 Where did hive N come from?


def test_25_lineage(ask: Any) -> None:
    (row,) = lines(lineage(ask("2026-03-17", hive="nuc 1")))
    assert (row["day"], row["hive"]) == (date(2025, 5, 13), "7")
    nine = lines(lineage(ask("2026-03-17", hive="10")))
    assert "target hive 10" in nine[-1]["what"]
    three = lineage(ask("2026-03-17", hive="3"))
    assert {r["hive"] for r in lines(three)} == {"3", "12"}
    assert any("12" in n for n in three.notes)


# Search as filters, not as a chat


def test_search_last_feed_of_two_to_one(ask: Any, said: Any) -> None:
    fed = [
        day for day, _, e in said("2026-03-17", hive="7", item="syrup")
        if value(e, "ratio") and value(e, "ratio").lo == 2
    ]  # fmt: skip
    answer = search(ask("2026-03-17", hive="7"), Wanted(item="syrup", ratio=2.0, most=1))
    assert [r["day"] for r in lines(answer)] == [fed[-1]]
    if len(fed) > 1:
        assert "newest 1" in answer.notes[0]


def test_search_words(ask: Any) -> None:
    (row,) = lines(search(ask("2026-03-17"), Wanted(words="sunken ropey")))
    assert row["hive"] == "26"
