#!/usr/bin/env python3
"""Score draft entries against labelled narrations.

    score.py GOLD.json... --with 'fieldvoice extract {text} --recorded-at {date} --register {register} --json'

Each GOLD file is {"id", "recorded_at", "register": [hive labels], "text", "entries": [...]};
an entry's `item` may list alternatives with "|". The command gets {text}: a file with the
narration, {date}: recorded_at, {register}: a file with the labels; it prints a JSON list of
draft entries, or an object with them under "entries". --text-from DIR scores transcripts
DIR/<id>.json or .txt instead of the clean text.

strict: hive, kind, status, item, every value and date right, each gold row used once.
loose: hive, kind and status right. unflagged: a wrong or spurious row that carries no flag.
flagged for nothing: a right row with a flag where the label has none.
"""

from __future__ import annotations

import argparse
import json
import math
import shlex
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

Row = dict[str, Any]

SCALE = {  # to one unit per dimension, so that 2 quarts and half a gallon agree
    "gallon": ("vol", 3785.411784),
    "quart": ("vol", 946.352946),
    "pint": ("vol", 473.176473),
    "cup": ("vol", 236.5882365),
    "fluid_ounce": ("vol", 29.5735295625),
    "tablespoon": ("vol", 14.78676478125),
    "teaspoon": ("vol", 4.92892159375),
    "litre": ("vol", 1000.0),
    "liter": ("vol", 1000.0),
    "millilitre": ("vol", 1.0),
    "milliliter": ("vol", 1.0),
    "pound": ("mass", 453.59237),
    "ounce": ("mass", 28.349523125),
    "gram": ("mass", 1.0),
    "kilogram": ("mass", 1000.0),
    "inch": ("len", 2.54),
    "foot": ("len", 30.48),
    "yard": ("len", 91.44),
    "centimetre": ("len", 1.0),
    "centimeter": ("len", 1.0),
    "millimetre": ("len", 0.1),
    "metre": ("len", 100.0),
    "mile": ("len", 160934.4),
    "kilometre": ("len", 1e5),
    "minute": ("time", 1 / 60),
    "hour": ("time", 1.0),
    "day": ("time", 24.0),
    "week": ("time", 168.0),
    "month": ("month", 1.0),
    "year": ("month", 12.0),
    "mile_per_hour": ("speed", 1.609344),
    "kilometre_per_hour": ("speed", 1.0),
    "percent": ("share", 0.01),
    "1": ("share", 1.0),
}


@dataclass
class Tally:
    """Counts over all narrations scored so far."""

    gold: int = 0
    got: int = 0
    strict: int = 0
    loose: int = 0
    action: int = 0
    valued: int = 0
    right_values: int = 0
    wrong: int = 0
    silent: int = 0
    plain: int = 0
    flagged_right: int = 0
    misses: list[str] = field(default_factory=list)

    def f1(self, right: int) -> float:
        """The harmonic mean of precision and recall of so many right rows."""
        precision, recall = share(right, self.got), share(right, self.gold)
        return share(2 * precision * recall, precision + recall)

    @property
    def strict_f1(self) -> float:
        return self.f1(self.strict)

    @property
    def loose_f1(self) -> float:
        return self.f1(self.loose)

    @property
    def values_right(self) -> float:
        return share(self.right_values, self.valued)

    @property
    def silent_share(self) -> float:
        return share(self.silent, self.got)

    def line(self) -> str:
        """All figures in one line."""
        return (
            f"rows gold {self.gold} got {self.got} | strict P {share(self.strict, self.got):.3f} "
            f"R {share(self.strict, self.gold):.3f} F1 {self.strict_f1:.3f} | "
            f"loose F1 {self.loose_f1:.3f} | values right {self.values_right:.3f} | "
            f"wrong rows unflagged {self.silent_share:.3f} of rows "
            f"({self.silent}/{self.wrong} of the wrong) | "
            f"right rows flagged for nothing {share(self.flagged_right, self.plain):.3f}"
        )


def share(part: float, whole: float) -> float:
    return part / whole if whole else 0.0


def base(value: Row) -> tuple[str, float, float]:
    unit = str(value.get("unit") or "").strip().lower().rstrip("s") or "1"
    unit = {"degf": "degF", "degc": "degC"}.get(unit, unit)
    dimension, factor = SCALE.get(unit, (unit, 1.0))
    return dimension, value["lo"] * factor, value["hi"] * factor


def same_value(gold: Row, got: Row) -> bool:
    """Equal numbers in units of one dimension; a counted "beetle trap" and "trap" are one thing."""
    try:
        a, b = base(gold), base(got)
    except (KeyError, TypeError):
        return False
    kin = a[0] == b[0] or (a[1:] == b[1:] and words(a[0]).split()[-1:] == words(b[0]).split()[-1:])
    return kin and all(
        math.isclose(x, y, rel_tol=0.01, abs_tol=1e-9) for x, y in zip(a[1:], b[1:], strict=True)
    )


def words(text: object) -> str:
    return " ".join(str(text or "").lower().replace("-", " ").split())


def same_item(gold: str | None, got: str | None) -> bool:
    theirs = words(got)
    for alternative in str(gold or "").split("|"):
        ours = words(alternative)
        if theirs == ours or (theirs and ours and (theirs in ours or ours in theirs)):
            return True
        if theirs and ours and theirs.rstrip("s") == ours.rstrip("s"):
            return True
    return not gold


def hive(entry: Row) -> str | None:
    label = entry.get("hive")
    return None if label in (None, "") else words(label)


def values_right(gold: Row, got: Row) -> bool:
    theirs = list(got.get("values") or [])
    for value in gold.get("values") or []:
        hit = next((v for v in theirs if same_value(value, v)), None)
        if hit is None:
            return False
        theirs.remove(hit)
    return True


def when_right(gold: Row, got: Row) -> bool:
    wanted = gold.get("when")
    if not wanted:
        return True
    said = got.get("when") or {}
    return (said.get("from"), said.get("to")) == (wanted.get("from"), wanted.get("to"))


def judge(gold: Row, got: Row) -> Row:
    same = [
        hive(gold) == hive(got),
        gold["kind"] == got.get("kind"),
        gold["status"] == got.get("status"),
    ]
    loose, near = all(same), sum(same)
    item = same_item(gold.get("item"), got.get("item"))
    values, when = values_right(gold, got), when_right(gold, got)
    action = gold.get("action") == got.get("action")
    return {
        "loose": loose,
        "strict": loose and item and values and when,
        "values": values,
        "action": action,
        "weight": 10 * (loose and item) + 4 * loose + 2 * item + values + when + action + near,
        "admissible": near >= 2 or (item and near >= 1),
    }


def pair(gold: list[Row], got: list[Row]) -> list[tuple[Row, int, int]]:
    """Match rows one to one, the best fitting first."""
    candidates = sorted(
        ((judge(g, p), i, j) for (i, g), (j, p) in product(enumerate(gold), enumerate(got))),
        key=lambda candidate: -candidate[0]["weight"],
    )
    used_gold: set[int] = set()
    used_got: set[int] = set()
    pairs = []
    for verdict, i, j in candidates:
        if verdict["admissible"] and i not in used_gold and j not in used_got:
            used_gold.add(i)
            used_got.add(j)
            pairs.append((verdict, i, j))
    return pairs


def count(tally: Tally, name: str, gold: list[Row], got: list[Row]) -> None:
    """Add one narration to the tally."""
    pairs = pair(gold, got)
    tally.gold += len(gold)
    tally.got += len(got)
    strict = set()
    for verdict, i, j in pairs:
        tally.strict += verdict["strict"]
        tally.loose += verdict["loose"]
        tally.action += verdict["action"]
        if gold[i].get("values"):
            tally.valued += 1
            tally.right_values += verdict["values"]
        if verdict["strict"]:
            strict.add(j)
            if not gold[i].get("flags"):
                tally.plain += 1
                tally.flagged_right += bool(got[j].get("flags"))
        else:
            tally.misses.append(
                f"  {name} WRONG gold={json.dumps(gold[i])}\n    got={json.dumps(got[j])}"
            )
    paired_gold, paired_got = {i for _, i, _ in pairs}, {j for _, _, j in pairs}
    for j, row in enumerate(got):
        if j not in strict:
            tally.wrong += 1
            tally.silent += not row.get("flags")
            if j not in paired_got:
                tally.misses.append(f"  {name} EXTRA {json.dumps(row)}")
    tally.misses += [
        f"  {name} MISSED {json.dumps(row)}" for i, row in enumerate(gold) if i not in paired_gold
    ]


def run(command: str, narration: Row, texts: Path | None) -> list[Row]:
    """Call the command on one narration and read the rows that it prints."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "narration.txt"
        path.write_text(narration["text"], encoding="utf-8")
        if texts:
            path = next(
                p for e in (".json", ".txt") if (p := texts / (narration["id"] + e)).exists()
            )
        register = Path(folder) / "register.json"
        register.write_text(json.dumps(narration.get("register", [])), encoding="utf-8")
        call = [
            word.format(text=path, date=narration["recorded_at"], register=register)
            for word in shlex.split(command)
        ]
        done = subprocess.run(call, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{narration['id']}: exit {done.returncode}: {done.stderr.strip()[-500:]}")
    got = json.loads(done.stdout)
    return list(got["entries"] if isinstance(got, dict) else got)


def score(paths: Iterable[Path], rows_of: Callable[[Row], list[Row]]) -> Tally:
    """Score what `rows_of` makes of each narration."""
    tally = Tally()
    for path in paths:
        narration = json.loads(path.read_text(encoding="utf-8"))
        count(tally, narration["id"], narration["entries"], rows_of(narration))
    return tally


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("gold", nargs="+", type=Path)
    parser.add_argument("--with", dest="command", required=True)
    parser.add_argument("--text-from", type=Path)
    parser.add_argument("--show", action="store_true", help="print each miss")
    parser.add_argument("--min-f1", type=float, help="exit 1 below this strict F1")
    parser.add_argument("--max-silent", type=float, help="exit 1 above this share of silent errors")
    options = parser.parse_args()
    tally = score(options.gold, lambda n: run(options.command, n, options.text_from))
    if options.show:
        print("\n".join(tally.misses))
    print(tally.line())
    low = options.min_f1 is not None and tally.strict_f1 < options.min_f1
    loud = options.max_silent is not None and tally.silent_share > options.max_silent
    sys.exit(1 if low or loud else 0)


if __name__ == "__main__":
    main()
