"""Labelled narrations -> training examples: candidates found by rules, gold rows aligned to them.

    python models/extraction/prepare.py OUT.json NARRATIONS...

Narrations are JSON files, or .jsonl with one a line.

The model decides about candidates that rules find: which word states a fact, which hive,
number and date belong to it. Training sees the same candidates as the tool does, so this
script runs the tool's own components and then finds each gold row's place among them.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from fieldvoice.extraction.candidates import Candidates, Day
from fieldvoice.extraction.hives import resolve
from fieldvoice.extraction.nlp import find_candidates
from fieldvoice.extraction.turning import turned
from fieldvoice.types import Register

STOP = set(
    [
        "a",
        "an",
        "the",
        "and",
        "or",
        "but",
        "so",
        "if",
        "i",
        "i'm",
        "we",
        "you",
        "he",
        "she",
        "it",
        "its",
        "they",
        "them",
        "their",
        "there",
        "here",
        "this",
        "that",
        "these",
        "those",
        "is",
        "are",
        "was",
        "were",
        "be",
        "been",
        "am",
        "'s",
        "'re",
        "'ve",
        "'ll",
        "'d",
        "'m",
        "n't",
        "not",
        "no",
        "yes",
        "do",
        "does",
        "did",
        "done",
        "have",
        "has",
        "had",
        "having",
        "to",
        "of",
        "in",
        "on",
        "at",
        "by",
        "for",
        "from",
        "with",
        "up",
        "down",
        "out",
        "off",
        "over",
        "under",
        "into",
        "onto",
        "as",
        "than",
        "then",
        "now",
        "just",
        "very",
        "really",
        "quite",
        "bit",
        "lot",
        "um",
        "uh",
        "ah",
        "er",
        "okay",
        "ok",
        "right",
        "well",
        "like",
        "oh",
        "hmm",
        "let",
        "see",
        "say",
        "think",
        "guess",
        "got",
        "get",
        "gets",
        "getting",
        "go",
        "going",
        "gonna",
        "will",
        "would",
        "could",
        "should",
        "can",
        "may",
        "might",
        "must",
        "put",
        "took",
        "take",
        "all",
        "some",
        "any",
        "few",
        "my",
        "me",
        "our",
        "us",
        "your",
        "what",
        "which",
        "who",
        "when",
        "where",
        "how",
        "too",
        "also",
        "again",
        "still",
        "yet",
        "already",
        "only",
        "even",
        "maybe",
        "about",
        "around",
        ",",
        ".",
        "?",
        "!",
        "...",
        ":",
        ";",
        "-",
        "(",
        ")",
        "never",
    ]
)


def words_of(text: str) -> list[str]:
    """Lower-case words, hyphens parted."""
    return text.lower().replace("-", " ").split()


def same_item(alternatives: str, got: str) -> bool:
    """Whether a name is one of the alternatives, or holds one."""
    got = " ".join(words_of(got))
    for alt in alternatives.split("|"):
        alt = " ".join(words_of(alt))
        if (
            got == alt
            or got.rstrip("s") == alt.rstrip("s")
            or alt in got
            or (len(got) > 3 and got in alt)
        ):
            return True
    return False


def group_rows(entries: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows that differ only in their hive become one row with several hives."""
    groups: list[dict[str, Any]] = []
    for e in entries:
        key = (e["kind"], e["action"], e["item"], e["status"], e["quote"])
        last = next((g for g in groups if g["key"] == key and e["hive"] not in g["hives"]), None)
        if last:
            last["hives"].append(e["hive"])
        else:
            groups.append({"key": key, "hives": [e["hive"]], "row": e})
    return groups


def find_quote(text: str, quote: str, after: int) -> int:
    """The quote's place nearest behind the last one; quotes stand mostly in order."""
    at = text.find(quote, max(0, after - 5))
    return at if at >= 0 else text.find(quote)


def anchor_candidates(c: Candidates, row: dict[str, Any], first: int, last: int) -> list[int]:
    """Tokens that may stand for the row, best first."""
    out: list[int] = []
    for thing in c.things:
        if (
            first <= thing.first
            and thing.last <= last
            and (same_item(row["item"], thing.item) or same_item(row["item"], thing.said))
        ):
            out.append(thing.last - 1)
    low = [t.low for t in c.document.tokens]
    alts = {w.rstrip("s") for alt in row["item"].split("|") for w in words_of(alt)} - {
        "hive",
        "bee",
    }
    out += [i for i in range(first, last) if low[i].rstrip("s") in alts and len(low[i]) > 2]
    taken = {i for q in c.quantities for i in range(q.first, q.last)}
    taken |= {i for m in c.mentions for i in range(m.first, m.last)}
    taken |= {i for d in c.dates for i in range(d.first, d.last)}
    kinds = [t for t in c.things if first <= t.first and t.last <= last and t.kind == row["kind"]]
    out += [t.last - 1 for t in kinds]
    out += [i for i in range(first, last) if low[i] not in STOP and i not in taken]
    out += [i for i in range(first, last) if low[i] not in ",.?!"]
    return out or [min(first, len(low) - 1)]


def span_of(c: Candidates, start: int, end: int) -> tuple[int, int]:
    """Tokens that touch these characters of the text as it came."""
    places = [t.origin for t in c.document.tokens]
    first = next((i for i, (_, b) in enumerate(places) if b > start), len(places))
    last = first
    while last < len(places) and places[last][0] < end:
        last += 1
    return first, last


def same_number(value: dict[str, Any], q: Any) -> bool:
    """Whether a gold value and a quantity are the same number, within a hundredth."""
    return abs(value["lo"] - q.lo) <= 0.01 * max(1, abs(q.lo)) and abs(
        value["hi"] - q.hi
    ) <= 0.01 * max(1, abs(q.hi))


def align_value(
    c: Candidates, value: dict[str, Any], first: int, last: int, anchor: int
) -> int | None:
    """The quantity that is this value: same numbers, nearest to the row's quote."""
    best = None
    for i, q in enumerate(c.quantities):
        share = value["role"] == "share" and (abs(value["lo"] / 100 - q.lo) < 0.01)
        if not (same_number(value, q) or share):
            continue
        outside = 0 if first <= q.first < last else min(abs(q.first - first), abs(q.first - last))
        said = q.said.lower()
        mismatch = value["said"].lower() not in said and said not in value["said"].lower()
        cost = (outside > 0, mismatch, outside, abs(q.first - anchor))
        if outside <= 60 and (best is None or cost < best[0]):
            best = (cost, i)
    return best[1] if best else None


def _window(day: Day | None) -> tuple[str | None, str | None]:
    ends = (day.from_, day.to) if day else (None, None)
    return ends[0].isoformat() if ends[0] else None, ends[1].isoformat() if ends[1] else None


def _hives_meant(c: Candidates, named: Sequence[str], register: Register) -> list[set[str]]:
    """The hives of each mention, group words resolved by the hives that rows were about so far."""
    low = [t.low for t in c.document.tokens]
    return [set(resolve(m, named, low[m.first : m.last], register)) for m in c.mentions]


def prepare(doc: dict[str, Any], lost: Counter[str]) -> dict[str, Any]:
    """One narration as an example; `lost` counts what could not be aligned."""
    recorded, register = (
        datetime.fromisoformat(doc["recorded_at"]),
        Register(tuple(doc["register"])),
    )
    c = find_candidates(doc["text"], recorded, register)
    rows, used, after = [], set(), 0
    named: list[str] = []
    for group in group_rows(doc["entries"]):
        row = group["row"]
        at = find_quote(doc["text"], row["quote"], after)
        if at < 0:
            lost["quote"] += 1
            continue
        after = at
        first, last = span_of(c, at, at + len(row["quote"]))
        anchor = next((i for i in anchor_candidates(c, row, first, last) if i not in used), None)
        if anchor is None:
            lost["anchor"] += 1
            continue
        used.add(anchor)
        hives = set(group["hives"])
        meant = _hives_meant(c, named, register)
        pointers = [i for i, m in enumerate(meant) if m == hives]
        named += [hive for hive in group["hives"] if hive and hive != "all"]
        if hives != {None} and not pointers:
            lost["hive"] += 1
        values = []
        for v in row["values"]:
            q = align_value(c, v, first, last, anchor)
            lost["value" if q is None else "value ok"] += 1
            if q is not None:
                values.append([q, v["role"], v["unit"]])
        when = row.get("when")
        dates = [
            i
            for i, d in enumerate(c.dates)
            if when
            and _window(turned(d, row["status"], recorded.date())) == (when["from"], when["to"])
        ]
        if when:
            lost["date ok" if dates else "date"] += 1
        thing = next((t for t in c.things if t.first <= anchor < t.last), None)
        literal = thing is not None and (same_item(row["item"], thing.name))
        rows.append(
            {
                "anchor": anchor,
                "first": first,
                "last": last,
                "kind": row["kind"],
                "action": row["action"],
                "status": row["status"],
                "item": row["item"],
                "literal": literal,
                "nohive": hives == {None},
                "all": hives == {"all"},
                "hive": pointers,
                "values": values,
                "dates": dates,
                "dated": bool(when),
            }
        )
    lost["rows"] += len(rows)
    return {
        "id": doc["id"], "words": [t.text for t in c.document.tokens],
        "sentences": [t.sentence for t in c.document.tokens], "features": c.features(),
        "quantities": [[q.first, q.last] for q in c.quantities],
        "mentions": [[m.first, m.last] for m in c.mentions],
        "dates": [[d.first, d.last] for d in c.dates], "rows": rows,
    }  # fmt: skip


def read(path: Path) -> list[dict[str, Any]]:
    """The narrations of a file: one as JSON, or one per line."""
    text = path.read_text(encoding="utf-8")
    return (
        [json.loads(line) for line in text.splitlines()]
        if path.suffix == ".jsonl"
        else [json.loads(text)]
    )


def main() -> None:
    """Prepare the narrations named on the command line."""
    out, *names = sys.argv[1:]
    lost: Counter[str] = Counter()
    examples = [prepare(doc, lost) for name in names for doc in read(Path(name))]
    Path(out).write_text(json.dumps(examples))
    print(len(examples), "narrations", dict(lost))


if __name__ == "__main__":
    main()
