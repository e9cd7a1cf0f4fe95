"""Everything at once on one logbook: nothing is lost, nobody is told that it is locked.

    python -m tests.trust.crowd --seconds 600

A folder is watched while recordings are synced into it; others are added; the review page
confirms row after row while `review --accept-unflagged` does the same; the log is exported,
asked and backed up. Speech recognition is stood in for (`adding.py`), all else is the program.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from tests.makers import COMMAND, query
from tests.trust.adding import ROWS
from tests.trust.sounds import talk
from tests.trust.worth import HIVES, doubled, faults_in

STARTS = 60.0  # seconds


@dataclass(slots=True)
class Crowd:
    """One logbook, and all who use it."""

    folder: Path
    seconds: float
    done: Counter[str] = field(default_factory=Counter)
    problems: list[str] = field(default_factory=list)
    kept: set[str] = field(default_factory=set)  # rows that the page said it had confirmed
    sounds: int = 0
    over: threading.Event = field(default_factory=threading.Event)
    turn: threading.Lock = field(default_factory=threading.Lock)

    @property
    def logbook(self) -> Path:
        """Where it lies."""
        return self.folder / "log.db"

    def run(self, name: str, words: list[str]) -> None:
        """A command to its end; anything but success is a problem."""
        done = subprocess.run(
            words, capture_output=True, text=True, check=False, timeout=STARTS * 2
        )
        if "was changed elsewhere in the meantime; nothing was overwritten" in done.stderr:
            self.done[f"{name} told of a change"] += 1  # the page took a row first: told, not lost
            return
        self.done[name] += 1
        if done.returncode != 0:
            self.problems.append(f"{name}: {done.returncode} {done.stderr.strip()[-400:]}")

    def command(self, *words: object) -> None:
        """The installed command."""
        self.run(str(words[0]), [str(COMMAND), "--logbook", str(self.logbook), *map(str, words)])

    def adding(self, *words: object) -> list[str]:
        """The command with words that are given."""
        return [sys.executable, "-m", "tests.trust.adding", "--logbook", str(self.logbook),
                *map(str, words)]  # fmt: skip

    def new_sound(self, folder: Path) -> Path:
        """Another recording, put in place at once as a finished copy is."""
        with self.turn:
            self.sounds += 1
            number = self.sounds
        made = talk(self.folder / f"made-{number}.ogg", 2.0, seed=number)
        # in letters: numbered files that follow one upon the other are chapters of one take
        letters = "".join("abcdefghij"[int(digit)] for digit in str(number))
        path = folder / f"talk-{letters}.ogg"
        made.rename(path)
        return path

    def syncs(self) -> None:
        """A phone puts recordings into the watched folder."""
        self.new_sound(self.folder / "inbox")
        self.over.wait(3.0)

    def adds(self) -> None:
        """Recordings are added by hand."""
        self.run("add", self.adding("add", self.new_sound(self.folder / "card")))

    def accepts(self) -> None:
        """What carries no flag is confirmed at once."""
        self.command("review", "--accept-unflagged")
        self.over.wait(2.0)

    def exports(self) -> None:
        """The log is read in every way."""
        self.command("export", "--csv", self.folder / "log.csv")
        self.command("due")
        copy = self.folder / f"copy-{self.done['backup']}.db"
        self.command("backup", copy)
        self.problems += faults_in(copy)
        copy.unlink()

    def again_and_again(self, act: Callable[[], None]) -> None:
        """Until the time is over."""
        while not self.over.is_set():
            try:
                act()
            except (OSError, subprocess.SubprocessError, httpx.HTTPError) as error:
                self.problems.append(f"{act.__name__}: {error!r}")

    def decides(self, site: str, link: str) -> None:
        """The page confirms waiting rows one by one; a row that another took is told, not lost."""
        with httpx.Client(base_url=site, headers={"origin": site}, timeout=STARTS) as client:
            client.get(link)
            while not self.over.is_set():
                waiting = query(
                    self.logbook,
                    "SELECT recordings.uuid, drafts.uuid, version FROM drafts"
                    " JOIN recordings ON recordings.id = recording_id"
                    " WHERE state = 'waiting' ORDER BY flags = '[]', random() LIMIT 5",
                )
                for recording, row, version in waiting:
                    asked = {"act": "confirm", "rows": [[row, version]]}
                    told = client.post(f"/recordings/{recording}/decide", json=asked)
                    self.done[f"page {told.status_code}"] += 1
                    if told.status_code == 200:
                        self.kept.add(row)
                    elif told.status_code != 409:
                        self.problems.append(f"page: {told.status_code} {told.text[:300]}")
                self.over.wait(0.2)


def crowd(folder: Path, seconds: float) -> Crowd:
    """Let them all loose for so long, then see what there is."""
    all_of = Crowd(folder, seconds)
    for name in ("inbox", "card"):
        (folder / name).mkdir()
    all_of.command("hives", "add", *HIVES)
    environment = os.environ | {"PYTHONUNBUFFERED": "1"}
    watched = all_of.adding("watch", folder / "inbox", "--settle", "0")
    page = [str(COMMAND), "--logbook", str(all_of.logbook), "review", "--no-browser", "--port", "0"]
    with (
        (folder / "watch.txt").open("w") as said,
        subprocess.Popen(watched, stdout=said, stderr=subprocess.STDOUT, env=environment) as watch,
        subprocess.Popen(
            page, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
        ) as server,
    ):
        try:
            assert server.stdout is not None
            found = re.search(r"(http://[^/\s]+)/enter\?token=\S+", server.stdout.readline())
            assert found is not None
            acts = (all_of.syncs, all_of.adds, all_of.accepts, all_of.exports)
            threads = [threading.Thread(target=all_of.again_and_again, args=[act]) for act in acts]
            threads.append(threading.Thread(target=all_of.decides, args=[found[1], found[0]]))
            for thread in threads:
                thread.start()
            time.sleep(seconds)
            all_of.over.set()
            for thread in threads:
                thread.join()
            _wait_for_all(all_of)
        finally:
            watch.terminate()
            server.terminate()
    _judge(all_of)
    return all_of


def _wait_for_all(all_of: Crowd) -> None:
    """The watched folder is looked at every few seconds; what was synced last is still to come."""
    until = time.monotonic() + STARTS
    while time.monotonic() < until:
        if query(all_of.logbook, "SELECT count(*) FROM recordings WHERE stage = 'drafted'") == [
            (all_of.sounds,)
        ]:
            return
        time.sleep(0.5)


def _judge(all_of: Crowd) -> None:
    path, problems = all_of.logbook, all_of.problems
    said = (all_of.folder / "watch.txt").read_text()
    for word in ("locked", "Traceback", "unforeseen", "fieldvoice: "):
        if word in said:
            problems.append(f"watch: {said[-600:]}")
    made = query(path, "SELECT count(*), count(DISTINCT sha256) FROM recordings")
    if made != [(all_of.sounds, all_of.sounds)]:
        problems.append(f"{made} recordings of {all_of.sounds}")
    short = query(
        path, "SELECT recording_id, count(*) FROM drafts GROUP BY 1 HAVING count(*) <> ?", len(ROWS)
    )
    if short:
        problems.append(f"recordings with more or fewer drafts: {short}")
    there = {uuid for (uuid,) in query(path, "SELECT uuid FROM entries")}
    if lost := len(all_of.kept - there):
        problems.append(f"{lost} rows lost that the page had kept")
    if twice := doubled(path):
        problems.append(f"{twice} rows doubled")
    problems += faults_in(path)


def main() -> None:
    """Run for the time asked for and tell what came of it."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--seconds", type=float, default=600.0)
    asked = ask.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = crowd(Path(folder), asked.seconds)
        rows = query(found.logbook, "SELECT count(*) FROM entries")[0][0]
    for problem in found.problems[:20]:
        print(problem)
    told = ", ".join(f"{name} {number}" for name, number in sorted(found.done.items()))
    print(
        f"{asked.seconds:.0f} s: {found.sounds} recordings, {rows} rows confirmed, of them "
        f"{len(found.kept)} on the page; {told}; {len(found.problems)} problems."
    )
    sys.exit(bool(found.problems))


if __name__ == "__main__":
    main()
