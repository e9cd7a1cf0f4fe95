"""`fieldvoice demo`: the whole way on the demo's recordings, in a throw-away logbook.

Every step runs the command a keeper would type, on real sound; only the keeper is
played: they look at each doubtful row and decide by what was really said, which
`demo/gold/` holds as rows labelled by hand. The first two are shown in full.
"""

from __future__ import annotations

import contextlib
import io
import json
import shlex
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fieldvoice.cli.examples import examples
from fieldvoice.types import Draft, Entry

if TYPE_CHECKING:
    from fieldvoice.review.desk import Session

SHOWN = 2  # doubtful rows whose review is shown in full
TRIES = 4  # acts on one row before the played keeper leaves it for later
ASKED_ON = "2026-10-04"  # the day after the last recording
MENDED = 2  # fields that the played keeper mends in one row
MUCH = 24  # lines of a long answer that are shown


@click.command(epilog=examples("fieldvoice demo"))
def demo() -> None:
    """Three recordings from two yards: heard, drafted, reviewed, logged, asked.

    Runs on the recordings that come with fieldvoice, in a logbook that is deleted at the
    end. Your own logbook is not touched.
    """
    from fieldvoice.locate import shipped

    folder = shipped("demo")
    places = tomllib.loads((folder / "yards.toml").read_text(encoding="utf-8"))["yard"]
    with tempfile.TemporaryDirectory(prefix="fieldvoice-demo-") as scratch:
        logbook = Path(scratch) / "logbook.db"
        _title("The register: which hives it may hear of")
        for yard in places:
            _run(logbook, ["hives", "add", "--yard", yard["name"], *yard["hives"]])
        _title("Hearing: speech becomes words, words become drafts (a minute or less)")
        for yard in places:
            paths = [str(folder / name) for name in yard["recordings"]]
            _run(logbook, ["add", "--yard", yard["name"], *paths])
        _title("What waits for review")
        _run(logbook, ["drafts"], at_most=MUCH)
        _title("Review: the doubtful rows one by one, then all that carry no flag")
        _review(logbook, _gold(folder))
        _ask(logbook)
    _title("That was all of it; the logbook of this demo is deleted again")
    click.echo("Start your own: fieldvoice hives add 1 2 3, then fieldvoice add RECORDING.")


def _ask(logbook: Path) -> None:
    """The log answers."""
    _title("The log: what was done to hive 7?")
    _run(logbook, ["hive", "7"])
    for question, words in (
        ("What is due in the orchard?", ["due", "--yard", "orchard"]),
        ("What is to be bought or made?", ["shopping"]),
        ("What was fed, how strong, and how much sugar was that?", ["feed"]),
        ("How many mites per hundred bees?", ["mites", "--yard", "ridge"]),
        ("Which hives are light?", ["stores", "--yard", "orchard"]),
    ):
        _title(question)
        _run(logbook, [*words, "--on", ASKED_ON], at_most=MUCH)


def _title(text: str) -> None:
    click.echo(f"\n--- {text} ---")


def _run(logbook: Path, words: Sequence[str], at_most: int | None = None) -> None:
    """Show a command as typed and run it; a long answer is cut and says so."""
    from fieldvoice.cli import cli
    from fieldvoice.locate import shipped

    click.echo(f"$ fieldvoice {shlex.join(words)}".replace(f"{shipped('demo')}", "demo"))
    whole = io.StringIO()
    with contextlib.redirect_stdout(whole) if at_most else contextlib.nullcontext():
        code = cli.main(["--logbook", str(logbook), *words], standalone_mode=False)
    lines = whole.getvalue().splitlines()
    for line in lines[:at_most]:
        click.echo(line)
    if at_most and len(lines) > at_most:
        click.echo(f"  [... {len(lines) - at_most} more lines]")
    if code:
        raise click.exceptions.Exit(code)


def _review(logbook: Path, gold: dict[str, list[Entry]]) -> None:
    """Review as in the terminal, with the played keeper at the keys."""
    from fieldvoice.cli.opened import logbook_of
    from fieldvoice.cli.review import LogbookDesk
    from fieldvoice.review.desk import Session
    from fieldvoice.review.terminal import review

    acts: Counter[str] = Counter()  # on each doubtful row, in the order they came

    def say(text: str) -> None:
        if len(acts) <= SHOWN:
            click.echo(text)

    def keys() -> Iterator[str]:
        while (draft := next(iter(_doubtful(session)), None)) is not None:
            acts[draft.uuid] += 1
            recording = session.desk.recording(draft.recording)
            wanted = _decision(draft.entry, gold[Path(recording.path).stem])
            yield wanted if acts[draft.uuid] <= TRIES else "n"
        if len(acts) > SHOWN:
            click.echo(f"  [... {len(acts) - SHOWN} more doubtful rows, decided the same way]")
        acts.clear()
        yield "a"
        yield "q"

    def ask(prompt: str) -> str:
        key = next(played, "q")
        say(prompt + click.style(key, bold=True))
        return key

    click.echo("$ fieldvoice review --terminal")
    with logbook_of(str(logbook), write=True) as opened:
        session = Session(LogbookDesk(opened), ask, say)
        played = keys()
        review(session)


def _doubtful(session: Session) -> list[Draft]:
    """Flagged rows as review shows them, first come first."""
    from fieldvoice.review.queue import doubtful_first, open_flags

    register = session.desk.register()
    queue = doubtful_first(session.desk.drafts(), register)
    return [d for d in queue if d.uuid not in session.later and open_flags(d, register)]


def _decision(draft: Entry, said: Sequence[Entry]) -> str:
    """What to type for a row, by what was really said.

    Confirm what is true; mend a field that is wrong; reject what was not said; leave
    for later what would need another look at the recording.
    """
    from fieldvoice.review.fields import field_text

    about = [row for row in said if _same_item(row.item, draft.item)]
    if not about:
        return "r"
    true = min(about, key=lambda row: len(_wrong(draft, row)))
    wrong = _wrong(draft, true)
    if not wrong:
        return "c"
    if len(wrong) > MENDED:
        return "n"
    text = field_text(true, wrong[0])
    return f"h {text}" if wrong[0] == "hive" else f"e {wrong[0]} {text}"


def _wrong(draft: Entry, true: Entry) -> list[str]:
    """The fields in which a draft is not what was said."""

    def numbers(entry: Entry) -> list[tuple[str, float, float, str | None]]:
        return sorted((v.role, v.lo, v.hi, v.unit) for v in entry.values)

    same = {
        "hive": draft.hive == true.hive,
        "kind": draft.kind == true.kind,
        "status": draft.status == true.status,
        "values": numbers(draft) == numbers(true),
        "when": draft.when == true.when,
    }
    return [name for name, right in same.items() if not right]


def _same_item(labelled: str, drafted: str) -> bool:
    """Whether the draft's item is one of the words that the label allows."""
    return any(drafted in word or word in drafted for word in labelled.split("|"))


def _gold(folder: Path) -> dict[str, list[Entry]]:
    """The rows that were really said, by the name of their recording."""
    from fieldvoice.wire import entry_from_json

    return {
        path.stem: [
            entry_from_json(row) for row in json.loads(path.read_text(encoding="utf-8"))["entries"]
        ]
        for path in sorted((folder / "gold").glob("*.json"))
    }
