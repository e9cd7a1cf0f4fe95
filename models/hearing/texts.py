"""What is said to the recogniser in training, and how it should write it: JSON lines.

    python models/hearing/texts.py OUT.jsonl --plain FILES...

Each line is {"kind", "spoken", "written"}, in an order that is shuffled by the seed. Kinds:

    yard     sentences of models/extraction/narrations.jsonl, their numbers varied
    drill    names of hives, numbers and ratios: drills.toml
    signal   what is said to the recorder itself, alone and beside other talk
    general  plain sentences of FILES, so that ordinary English is not unlearnt

FILES are texts of any kind in UTF-8; the files of Debian's package `fortunes` serve. Only
whole sentences of letters and plain stops are taken, and no more than are asked for.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

from written import say, varied, written

HERE = Path(__file__).parent
NARRATIONS = HERE.parent / "extraction" / "narrations.jsonl"
Rng = random.Random


@dataclass(frozen=True, slots=True)
class Utterance:
    """One thing that is said in one breath."""

    kind: str
    spoken: str
    written: str


@dataclass(frozen=True, slots=True)
class Label:
    """The name of a hive; a bare one is not announced by "hive"."""

    spoken: str
    written: str
    bare: bool = False


@cache
def drills() -> dict[str, list[str]]:
    """The content of drills.toml."""
    return tomllib.loads((HERE / "drills.toml").read_text(encoding="utf-8"))


# --- sentences ----------------------------------------------------------------


def sentences(text: str) -> list[str]:
    """The text cut behind stops."""
    return [s for s in re.split(r"(?<=[.!?])\s+", text.strip()) if s]


def groups(parts: Iterable[str], rng: Rng, least: int, most: int) -> Iterator[str]:
    """Neighbouring sentences as utterances of about so many words."""
    now: list[str] = []
    count = 0
    for part in parts:
        words = len(part.split())
        if now and count + words > rng.randint(least, most):
            yield " ".join(now)
            now, count = [], 0
        now.append(part)
        count += words
    if now:
        yield " ".join(now)


def narrated(path: Path, rng: Rng) -> list[str]:
    """Utterances of the narrations that are written as spoken, with stops and no digits."""
    out: list[str] = []
    for line in path.read_text(encoding="utf-8").splitlines():
        text = json.loads(line)["text"]
        as_spoken = text[:1].isupper() and not re.search(r"\d", text)
        if as_spoken and text.count(".") >= len(text.split()) / 25:
            out += groups(filter(_clean, sentences(text)), rng, 10, 34)
    return out


def _clean(sentence: str) -> bool:
    """Whether a sentence is short enough, of plain letters, and spelled as it should be."""
    plain = re.fullmatch(r"[A-Za-z ,.!?;:'\-]+", sentence)
    return bool(plain) and len(sentence.split()) <= 40 and not _misheard(sentence)


def _misheard(sentence: str) -> bool:
    """Some narrations hold a recogniser's mistakes, which it must not be taught."""
    from fieldvoice.extraction.document import read_document
    from fieldvoice.extraction.respell import respell

    document = read_document(_tokenizer()(sentence))
    return respell(document).text != document.text


@cache
def _tokenizer() -> Any:
    from fieldvoice.extraction.document import spacy_without_torch

    return spacy_without_torch().blank("en")


def plain(paths: Sequence[Path], rng: Rng) -> list[str]:
    """Utterances of the sentences that texts of any kind hold."""
    out: list[str] = []
    for path in paths:
        # a line of one sign parts pieces in the files of `fortunes`, "-- name" ends them
        pieces = re.split(r"\n%\n|\n\s*\n|\n\s*--", path.read_text("utf-8", "replace"))
        for piece in pieces:
            whole = filter(_ordinary, sentences(re.sub(r"\s+", " ", piece)))
            out += groups(whole, rng, 8, 30)
    return [text for text in dict.fromkeys(out) if len(text.split()) >= 6]


def _ordinary(sentence: str) -> bool:
    letters = re.fullmatch(r"[A-Z][A-Za-z ,;:'\-]*[.!?]", sentence)
    return bool(letters) and 4 <= len(sentence.split()) <= 35 and not re.search(
        r"[A-Z]{2}", sentence
    )  # fmt: skip


# --- drills -------------------------------------------------------------------


def label(rng: Rng) -> Label:
    """A hive's name: half of them plain numbers."""
    kind = rng.random()
    few = rng.randint(1, 9)
    if kind < 0.5:
        number = rng.choice([rng.randint(*ends) for ends in ((1, 12), (13, 19), (20, 60), (1, 99))])
        return Label(say(number), str(number))
    if kind < 0.72:
        letter, number = rng.choice(drills()["letters"]), rng.randint(1, 12)
        return Label(f"{letter} {say(number)}", f"{letter}{number}")
    if kind < 0.86:
        return Label(f"nuc {say(few)}", f"nuc {few}", bare=True)
    if kind < 0.93:
        name = rng.choice(drills()["names"])
        return Label(f"{name} {say(few)}", f"{name} {few}", bare=True)
    number = rng.randint(100, 160)
    pair = f"{say(number // 100)} {say(number % 100)}"  # "one forty-two"
    return Label(pair if number % 100 > 9 else say(number), str(number))


def drill(rng: Rng) -> Utterance:
    """One to four short sentences with numbers."""
    made = [_sentence(rng) for _ in range(rng.randint(1, 4))]
    return Utterance("drill", " ".join(s for s, _ in made), " ".join(w for _, w in made))


def _sentence(rng: Rng) -> tuple[str, str]:
    """Spoken and written."""
    kind = rng.random()
    if kind < 0.5:
        return _opening(rng)
    words, ratio = drills(), rng.choice(drills()["ratios"])
    if kind < 0.62:
        said = rng.choice(words["feeding"]).format(ratio=ratio)
    else:
        counted = rng.choice(words["counting"]).format(amount=_amount(rng))
        said = counted + rng.choice(words["after"]).format(ratio=ratio)
    said = _sentence_case(said)
    return said, written(said)


def _opening(rng: Rng) -> tuple[str, str]:
    template, one, other = rng.choice(drills()["opening"]), label(rng), label(rng)
    for field, name in (("label", one), ("other", other)):
        if name.bare:
            announced = rf"(hive number|hive|number|colony) (?={{{field}}})"
            template = re.sub(announced, "", template, flags=re.I)
    spoken = template.format(label=one.spoken, other=other.spoken)
    return _sentence_case(spoken), _sentence_case(
        template.format(label=one.written, other=other.written)
    )


def _amount(rng: Rng) -> str:
    ends = ((2, 12), (13, 19), (21, 99))
    round_numbers = (range(20, 100, 10), (100, 150, 200, 250, 300, 400, 500))
    choices = [rng.randint(*e) for e in ends] + [rng.choice(r) for r in round_numbers]
    number = rng.choice(choices)
    half = " and a half" if number < 8 and rng.random() < 0.2 else ""
    which = f" {rng.choice(drills()['which'])}" if rng.random() < 0.15 else ""
    return f"{say(number, rng)}{half}{which} {rng.choice(drills()['units'])}"


def _sentence_case(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def signal(rng: Rng, talk: Sequence[str]) -> Utterance:
    """A signal to the recorder, for the most part with some talk before or behind it."""
    from fieldvoice.listening.wording import load_wording

    wording = load_wording()
    name = rng.choice(sorted(wording.signals))
    words = f"{rng.choice(wording.wake).capitalize()}, {rng.choice(wording.signals[name].say)}"
    if name == "open":
        words += f" {say(rng.randint(1, 40))}"
    elif name == "note":
        words += f", {rng.choice(drills()['notes'])}"
    parts = [f"{words}."]
    if rng.random() < 0.6:
        parts.insert(rng.randint(0, 1), varied(rng.choice(talk), rng, 0.3))
    spoken = " ".join(parts)
    return Utterance("signal", spoken, written(spoken))


# --- all of it ----------------------------------------------------------------


def utterances(options: argparse.Namespace) -> list[Utterance]:
    """Every kind, as many as asked for or as there are, shuffled."""
    rng = random.Random(options.seed)
    yard = narrated(options.narrations, rng)
    general = plain(options.plain, rng)
    rng.shuffle(yard)
    rng.shuffle(general)
    out = [_as_said("yard", varied(text, rng, 0.4)) for text in yard[: options.yard]]
    out += [drill(rng) for _ in range(options.drills)]
    out += [signal(rng, yard) for _ in range(options.signals)]
    out += [_as_said("general", text) for text in general[: options.general]]
    rng.shuffle(out)
    return out


def _as_said(kind: str, text: str) -> Utterance:
    return Utterance(kind, text, written(text))


def main() -> None:
    """Write the utterances."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("out", type=Path)
    parser.add_argument("--narrations", type=Path, default=NARRATIONS)
    parser.add_argument("--plain", nargs="+", type=Path, required=True)
    parser.add_argument("--yard", type=int, default=3000)
    parser.add_argument("--drills", type=int, default=900)
    parser.add_argument("--signals", type=int, default=250)
    parser.add_argument("--general", type=int, default=1200)
    parser.add_argument("--seed", type=int, default=7)
    options = parser.parse_args()
    found = utterances(options)
    lines = [json.dumps(asdict(one), ensure_ascii=False) for one in found]
    options.out.write_text("\n".join(lines) + "\n", encoding="utf-8")
    kinds = [one.kind for one in found]
    print({kind: kinds.count(kind) for kind in dict.fromkeys(kinds)})


if __name__ == "__main__":
    main()
