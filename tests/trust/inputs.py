"""Bad inputs by kind: each is made from a seed, given to the program in this process, and must
be taken or refused in one sentence. Anything else that is raised is a fault."""

from __future__ import annotations

import contextlib
import io
import json
import random
import re
import shutil
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import click

from fieldvoice import cli
from fieldvoice.errors import FieldvoiceError
from tests.makers import CODECS, MAY, query
from tests.trust.damage import damage_file, damage_logbook
from tests.trust.mutations import ODD_TEXTS, mutated, mutated_bytes, mutated_text
from tests.trust.sounds import talk
from tests.trust.worth import faults_in, make_logbook

LONGEST = 1200  # characters of a sentence that a keeper can still read
MOST_SECONDS = 60 * 60  # of sound decoded here; what is longer was not refused and is no bomb

SETTINGS = """\
units = "us"
degrees = "C"
ratio_by = "weight"
yard = "home"
engine = "auto"
mite_threshold = "manitoba-2021"
winter_stores = "60 pound"
model = "tiny.en"
"""
NOTES = (
    "Hive 7. Gave her two quarts of two to one. Saw eggs. Next Tuesday look at hive 8. No queen."
)


class Fault(Exception):
    """What must not happen, in words."""


@dataclass
class Bench:
    """What inputs are given to: made once for each process."""

    folder: Path
    kit: Path = field(init=False)

    def __post_init__(self) -> None:
        self.kit = self.folder / "kit"
        self.kit.mkdir(parents=True, exist_ok=True)
        make_logbook(self.kit / "log.db")
        make_logbook(self.kit / "other.db", first=5)
        for suffix in CODECS:
            talk(self.kit / f"talk{suffix}", title="hive 7")
        transcript = query(self.kit / "log.db", "SELECT transcript FROM recordings LIMIT 1")[0][0]
        self.transcript = json.loads(transcript)
        self.transcript["segments"] = self.transcript["segments"][:6]
        self.transcript["doubts"] = [
            {"start": 1.0, "end": 2.0, "kind": "number", "heard": "two",
             "readings": [{"text": "two", "score": -1.0}, {"text": "ten", "score": -1.5}]}
        ]  # fmt: skip
        with contextlib.redirect_stdout(io.StringIO()):
            for name in ("csv", "json"):
                cli.cli.main(
                    ["--logbook", str(self.kit / "log.db"), "export", f"--{name}",
                     str(self.kit / f"log.{name}")],
                    standalone_mode=False,
                )  # fmt: skip

    def fresh(self, name: str = "log.db") -> Path:
        """A logbook that may be changed."""
        path = self.folder / f"fresh-{name}"
        for left in ("", "-wal", "-shm"):
            path.with_name(path.name + left).unlink(missing_ok=True)
        shutil.copy(self.kit / name, path)
        return path

    @cached_property
    def page(self) -> Any:
        """The review page's application behind its guard, and a browser that has entered."""
        from starlette.routing import Route
        from starlette.testclient import TestClient

        from fieldvoice.cli.page import bench_of
        from fieldvoice.logbook.opening import open_logbook
        from fieldvoice.review.page.answers import Answers
        from fieldvoice.review.page.app import make_app
        from fieldvoice.review.page.guard import Guard, Keyring

        path = self.folder / "page.db"
        make_logbook(path)
        self._open = contextlib.ExitStack()
        logbook = self._open.enter_context(open_logbook(path))
        keyring = Keyring()
        site = "http://127.0.0.1:8731"
        inner = make_app(Answers(bench_of(logbook, path)))
        app = Guard(inner, keyring, ["127.0.0.1:8731"])
        self.routes = [route for route in inner.routes if isinstance(route, Route)]
        client = TestClient(app, base_url=site, headers={"origin": site}, follow_redirects=False)
        client.get(f"/enter?token={keyring.new_token()}")
        self.ids = [r for (r,) in query(path, "SELECT uuid FROM recordings")]
        self.rows = query(path, "SELECT uuid, version FROM drafts")
        return client


def command(*words: object) -> None:
    """A command of the command line, as installed, in this process."""
    with contextlib.redirect_stdout(io.StringIO()):
        cli.cli.main([str(word) for word in words], standalone_mode=False)


def sound(bench: Bench, chance: random.Random) -> None:
    """A mutated recording, on the way that `add` and the page take it."""
    from fieldvoice.hearing.cutting import samples
    from fieldvoice.hearing.decode import RATE, decode, sound_hash
    from fieldvoice.hearing.moment import recorded_at

    suffix = chance.choice(tuple(CODECS))
    path = bench.folder / f"bad{suffix}"
    shutil.copy(bench.kit / f"talk{suffix}", path)
    if chance.random() < 0.3:
        damage_file(path, chance)
    else:
        path.write_bytes(mutated_bytes(path.read_bytes(), chance))
    sound_hash(path)
    recorded_at(path)
    try:
        done = 0
        for block in decode(path):
            done += len(block)
            if not (abs(block) <= 1e6).all():
                raise Fault("samples that are no sound")
            if done > MOST_SECONDS * RATE:
                break
    finally:
        for _ in samples(path, 0.5, 1.5):
            pass


def metadata(bench: Bench, chance: random.Random) -> None:
    """A good recording whose container says odd things of itself."""
    import av

    from fieldvoice.hearing.moment import recorded_at

    suffix = chance.choice((".wav", ".flac", ".mp3", ".m4a", ".ogg", ".webm"))
    path = bench.folder / f"tagged{suffix}"
    keys = ("creation_time", "date", "ICRD", "recording_date", "title", "comment", "encoder",
            "com.apple.quicktime.creationdate", "location", "artist")  # fmt: skip
    tags = {chance.choice(keys): _tag(chance) for _ in range(4)}
    with av.open(str(bench.kit / f"talk{suffix}")) as source, av.open(str(path), "w") as out:
        stream = out.add_stream_from_template(source.streams.audio[0])
        out.metadata.update(tags)
        for packet in source.demux(source.streams.audio[0]):
            if packet.dts is not None:
                packet.stream = stream
                out.mux(packet)
    moment = recorded_at(path)
    if moment.at.tzinfo is None:
        raise Fault("a moment without an offset")
    recorded_at(
        path.rename(path.with_name(_tag(chance).replace("/", "_")[:60].strip("\0. ") or "x"))
    )


def _tag(chance: random.Random) -> str:
    if chance.random() < 0.4:
        return chance.choice(ODD_TEXTS).replace("\0", "")[:200]
    numbers = [chance.choice((0, 1, 12, 13, 24, 31, 59, 60, 99, 1904, 1970, 2026, 9999, 99999))
               for _ in range(7)]  # fmt: skip
    shape = chance.choice(("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", "{:04}{:02}{:02}", "{:04}",
                           "{:04}-{:02}-{:02} {:02}.{:02}.{:02}", "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}+{:02}:00"))  # fmt: skip
    return shape.format(*numbers)


def transcript(bench: Bench, chance: random.Random) -> None:
    """A transcript or text from elsewhere, extracted from."""
    path = bench.folder / "heard.json"
    if chance.random() < 0.25:
        path.write_bytes(mutated_text(json.dumps(bench.transcript, indent=1), chance))
    elif chance.random() < 0.2:
        path = path.with_name("notes.txt")
        path.write_bytes(mutated_text(NOTES, chance))
    else:
        path.write_text(json.dumps(mutated(bench.transcript, chance, chance.choice((1, 2, 5)))))
    command("extract", path, "--recorded-at", "2026-05-09T10:20", "--json", "--explain")


def register(bench: Bench, chance: random.Random) -> None:
    """A list of hives from elsewhere."""
    path = bench.folder / "hives.json"
    labels = ["7", "8", "A3", "nuc 2", "blue one"]
    if chance.random() < 0.4:
        path.write_bytes(mutated_text(json.dumps(labels), chance))
    else:
        path.write_text(json.dumps(mutated(labels, chance, chance.choice((1, 3)))))
    notes = bench.folder / "hive-notes.txt"
    notes.write_text("Hive 7, no eggs.", encoding="utf-8")
    command("extract", notes, "--recorded-at", "2026-05-09", "--register", path)


def settings(bench: Bench, chance: random.Random) -> None:
    """A settings file, and the keeper's own thresholds and follow-ups beside the logbook."""
    from fieldvoice.settings import load_settings

    folder = bench.folder / "set"
    folder.mkdir(exist_ok=True)
    shutil.copy(bench.kit / "log.db", folder / "log.db")
    for path in folder.glob("*.toml"):
        path.unlink()
    name = chance.choice(("settings", "settings", "thresholds", "followups"))
    text = SETTINGS
    if name != "settings":
        import fieldvoice

        trade = Path(fieldvoice.__file__).parent / "trade"
        text = (trade / f"{name}.toml").read_text(encoding="utf-8")
    (folder / f"{name}.toml").write_bytes(mutated_text(text, chance))
    load_settings(folder / "log.db")
    question = chance.choice(("due", "mites", "winter", "stores", "feed"))
    command("--logbook", folder / "log.db", question)


def table(bench: Bench, chance: random.Random) -> None:
    """A table to import: all of it or nothing, and the logbook whole."""
    suffix = chance.choice((".csv", ".csv", ".json"))
    path = bench.folder / f"table{suffix}"
    text = (bench.kit / f"log{suffix}").read_text(encoding="utf-8")
    more: list[str] = []
    if suffix == ".json" and chance.random() < 0.6:
        path.write_text(json.dumps(mutated(json.loads(text)[:8], chance, chance.choice((1, 2, 5)))))
    elif chance.random() < 0.4:
        path = path.with_suffix(".csv")
        path.write_bytes(
            mutated_text("Date,Hive,Litres\n2025-05-03,7,2\n03.06.2025,8,2.5\n", chance)
        )
        more = ["--column", "day=Date", "--column", "hive=Hive", "--column",
                "value:amount:litre=Litres", "--set", "kind=feed", "--set", "status=done"]  # fmt: skip
    else:
        path.write_bytes(mutated_text(text, chance))
    logbook = bench.fresh("other.db")
    try:
        command("--logbook", logbook, "import", path, "--add-hives", *more)
        command("--logbook", logbook, "log", "--json")
    finally:
        if found := faults_in(logbook):
            raise Fault(f"the logbook is not whole: {found}")


def logbook(bench: Bench, chance: random.Random) -> None:
    """Another's logbook to merge, or a backup to restore, damaged."""
    other = bench.fresh("other.db")
    damage_logbook(other, chance) if chance.random() < 0.7 else damage_file(other, chance)
    mine = bench.fresh()
    try:
        command("--logbook", mine, *chance.choice((["merge", other], ["restore", other, "--yes"])))
    finally:
        for aside in mine.parent.glob("fresh-log-before-*"):
            aside.unlink()
        if found := faults_in(mine):
            raise Fault(f"the logbook is not whole: {found}")


def words(bench: Bench, chance: random.Random) -> None:
    """Odd options and words after a command."""
    said = [chance.choice(ODD_TEXTS).replace("\0", "") or "x" for _ in range(3)]
    when = ["--recorded-at", MAY.isoformat()]
    calls = (
        ["log", "--since", said[0]], ["log", "--search", said[0]], ["log", "--hive", said[0]],
        ["hive", said[0]], ["hives", "add", said[0]], ["hives", "rename", said[0], said[1]],
        ["hives", "alias", "7", said[0]], ["yard", "add", said[0]], ["search", said[0], said[1]],
        ["syrup", "--want", said[0], "--ratio", said[1]], ["days", "--graft", said[0]],
        ["honey", "--gallons", said[0]], ["feed", said[0], "--until", said[1]],
        ["due", "--yard", said[0]], ["add", said[0], "--recorded-at", said[1]],
        ["label", "add", said[0], "--item", said[1], "--days", said[2], "--source", "x"],
        ["picture", said[0], "--to", said[1]], ["mites", "--on", said[0]],
        ["picture", "mites", "--to", f"{said[1]}.svg"], ["add", said[0]], ["forget", said[0]],
        ["transcribe", said[0]], ["transcribe", said[0], "--register", said[1]],
        ["extract", said[0], *when], ["extract", said[0], "--register", said[1], *when],
        ["watch", said[0], "--once"], ["watch", said[0], "--service"], ["import", said[0]],
        ["merge", said[0]], ["backup", said[0]], ["restore", said[0], "--yes"],
        ["export", "--csv", said[0]], ["export", "--json", said[0]],
        ["review", "--export-labels", said[0]], ["sheet", "--to", said[0]],
        ["calendar", "--to", said[0]], ["listen", "--play", f"{said[0]}.wav"], ["medicine", said[0]],
        ["plans", said[0], said[1]], ["queens", said[0]], ["stores", "--yard", said[0]],
        ["--logbook", said[0], "log"], ["--logbook", said[0], "add", said[1]],
    )  # fmt: skip
    here = bench.folder / "here"  # what is written under an odd name is written there
    here.mkdir(exist_ok=True)
    with contextlib.chdir(here):
        command("--logbook", bench.fresh(), *chance.choice(calls))


RANGES = ("bytes=0-", "bytes=-1", "bytes=9-3", "x", "bytes=" + "9" * 30 + "-")
NAMES = ("feed", "mites", "due", "winter", "strength", "year", "search", "x")


def _part(name: str, recording: str, row: str, chance: random.Random) -> str:
    """What stands for a part of an address."""
    return {"recording": recording, "row": row}.get(name, chance.choice(NAMES))


def request(bench: Bench, chance: random.Random) -> None:
    """A request to the page, as a broken or hostile script with the key would send it."""
    client = bench.page
    recording = chance.choice([*bench.ids, str(uuid.UUID(int=chance.getrandbits(128))), "x"])
    row, version = chance.choice(bench.rows)
    one = f"/recordings/{recording}"
    route = chance.choice(bench.routes)  # every address that the page has
    path = re.sub(
        r"{(\w+)(:\w+)?}", lambda found: _part(found[1], recording, row, chance), route.path
    )
    if "POST" not in (route.methods or ()):
        names = ("words", "start", "end", "hive", "yard", "since", "until", "on", "x")
        query_string = {chance.choice(names): chance.choice(ODD_TEXTS) for _ in range(3)}
        headers = {"range": chance.choice(RANGES)}
        answer = client.get(path, params=query_string, headers=headers)
    else:
        acts = ("confirm", "reject", "edit", "assign", "split", "merge", "write", "undo", "looked")
        asked: dict[str, Any] = {
            "act": chance.choice(acts), "rows": [[row, version]], "hive": "8", "copies": 2,
            "hives": ["7", "8"], "confirm": True, "words": "gave her two quarts", "start": 1.0,
            "end": 2.0, "add_hive": False, "step": None, "unflagged": False,
            "fields": {"hive": "7", "kind": "feed", "action": "give", "item": "syrup",
                       "status": "done", "values": ["amount 2 quart"], "when": "next Tuesday",
                       "details": "place=front", "quote": "x"},
        }  # fmt: skip
        if "hand-in" in path:
            asked = {"name": "talk.ogg", "size": 9, "modified": 1.7e12, "at": 0, "data": "AAAA"}
        if chance.random() < 0.4:
            path = f"{one}/decide"
        body = json.dumps(mutated(asked, chance, chance.choice((1, 2, 4)))).encode()
        if chance.random() < 0.15:
            body = mutated_bytes(body, chance)
        answer = client.post(path, content=body, headers={"content-type": "application/json"})
    if answer.status_code >= 500:
        raise Fault(f"{path} answers {answer.status_code}: {answer.text[:300]}")


KINDS: dict[str, tuple[int, Callable[[Bench, random.Random], None]]] = {
    # name: (how many of a hundred inputs, what is done)
    "sound": (34, sound),
    "metadata": (8, metadata),
    "transcript": (12, transcript),
    "register": (4, register),
    "settings": (8, settings),
    "table": (10, table),
    "logbook": (4, logbook),
    "words": (6, words),
    "request": (14, request),
}


def warm_up(bench: Bench) -> None:
    """Load what is loaded once, so that what is timed is the input."""
    assert bench.page
    notes = bench.folder / "warm.txt"
    notes.write_text(NOTES, encoding="utf-8")
    command("extract", notes, "--recorded-at", MAY.isoformat())


def give(bench: Bench, kind: str, seed: str) -> str:
    """Give one input; "taken" or "refused: SENTENCE".

    Raises:
        Fault: it was refused in no sentence that a keeper can read.
        Exception: a fault that nobody foresaw.
    """
    try:
        KINDS[kind][1](bench, random.Random(seed))
    except FieldvoiceError as error:
        told = str(error)
        if not told.strip() or len(told) > LONGEST or "Traceback" in told:
            raise Fault(f"no sentence ({len(told)} characters): {told[:300]!r}") from error
        return f"refused: {told}"
    except (click.ClickException, click.Abort, click.exceptions.Exit) as error:
        return f"refused: {error}"
    return "taken"
