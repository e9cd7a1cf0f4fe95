"""Strike the program where it hurts and see that nothing was lost.

    python -m tests.trust.faults --count 500 [--seed 1] [--keep FOLDER]

Each fault strikes the installed command in a folder of its own: it is killed at a random
system call that writes, the disk is full from a random write on (an error that strace
injects, or a real small disk), the files may not be written, bytes of the recording or pages
of the logbook are damaged. Afterwards the logbook must open and be whole, every row that was
confirmed must be there once, and the next command must go on or say in a sentence what to do.
Needs Linux and strace, and a user who may make namespaces.
"""

from __future__ import annotations

import argparse
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from fieldvoice.errors import FieldvoiceError
from fieldvoice.logbook.backup import check
from fieldvoice.logbook.opening import open_logbook
from tests.trust.damage import damage_file, damage_logbook
from tests.trust.pages import visit_page
from tests.trust.scenes import SCENES, Scene, adding, fieldvoice, lay_out, prepare
from tests.trust.worth import all_of, doubled, faults_in, log_of

WRITES = (
    "write,pwrite64,sendfile,copy_file_range,fdatasync,fsync,ftruncate,unlink,unlinkat,rename,"
    "renameat,renameat2,mkdir"
)
SECONDS = 60.0  # no command of these takes longer, struck or not

KINDS = {  # how many of a hundred faults
    "killed": 48,
    "no room": 12,
    "small disk": 8,
    "read only": 5,
    "page killed": 6,
    "page no room": 4,
    "damaged sound": 6,
    "damaged logbook": 11,
}


Write = tuple[str, int]
"""A system call, and how many of its name its thread had made by then: as strace counts."""

STEP = 37  # has no divisor in common with a hundred: kinds come mixed


@dataclass(frozen=True, slots=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    def problems(self) -> list[str]:
        """What a keeper must never see."""
        found = []
        if "Traceback" in self.out + self.err:
            found.append(f"a traceback: {self.err[-600:]}")
        if "unforeseen" in self.out + self.err:
            found.append(f"a fault that nobody foresaw: {self.err.strip()}")
        if (self.code == 2 and len(self.sentences()) != 1) or self.code not in (0, 2, -9, 130):
            found.append(f"code {self.code} without one sentence: {self.err.strip()[-600:]!r}")
        return found

    def sentences(self) -> list[str]:
        """What it says is wrong."""
        return [line for line in self.err.splitlines() if line.startswith("fieldvoice: ")]


@dataclass(slots=True)
class Struck:
    """One fault and what came of it."""

    kind: str
    scene: str
    where: str
    problems: list[str] = field(default_factory=list)
    lost: int = 0  # confirmed rows
    doubled: int = 0
    said: str = ""  # the sentence of the command that was struck, or of the next one
    missed: bool = False  # the command ended before the fault could strike


def run(words: list[str], keys: str = "", before: tuple[str, ...] = ()) -> Done:
    """Run a command to its end; one that hangs is a problem of its own."""
    try:
        done = subprocess.run(
            [*before, *words], input=keys, capture_output=True, text=True, timeout=SECONDS,
            check=False, errors="replace",
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return Done(-1, "", f"it hung for {SECONDS:.0f} s")
    return Done(done.returncode, done.stdout, done.stderr)


def strace(*more: str) -> tuple[str, ...]:
    """The command under strace, which passes its end on."""
    return ("strace", "-f", "-qq", "--seccomp-bpf", "-e", f"trace={WRITES}", *more)


def killing(write: Write) -> tuple[str, ...]:
    """The command under strace, killed at that write; with --seccomp-bpf strace 6.1 kills nothing."""
    name, nth = write
    inject = f"inject={name}:signal=KILL:when={nth}"
    return ("strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={name}", "-e", inject)


def writes_in(log: Path) -> list[Write]:
    """The system calls of a log of strace, in their order."""
    made: Counter[tuple[str, str]] = Counter()
    found = []
    for thread, name in re.findall(r"^(\d+) +(\w+)\(", log.read_text(errors="replace"), re.M):
        made[thread, name] += 1
        found.append((name, made[thread, name]))
    return found


@dataclass(slots=True)
class Harness:
    """Everything that faults have in common: what scenes start from and what they lead to."""

    work: Path
    kit: Path = field(init=False)
    writes: dict[str, list[Write]] = field(default_factory=dict)  # of runs that are not struck
    worth: dict[str, tuple[dict[str, Counter], dict[str, Counter]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.kit = self.work / "kit"
        prepare(self.kit)

    def measure(self, scene: Scene) -> None:
        """Run a scene without a fault: what it is worth before and after, and its writes."""
        if scene.name in self.writes:
            return
        folder = self.work / f"whole-{scene.name.replace(' ', '-')}"
        lay_out(scene, self.kit, folder)
        before = all_of(folder / "log.db")
        log = self.work / "strace.txt"
        done = run(scene.words(folder), scene.keys, strace("-o", str(log)))
        assert done.code == 0, (scene.name, done)
        self.writes[scene.name] = writes_in(log)
        self.worth[scene.name] = before, all_of(folder / "log.db")
        shutil.rmtree(folder)

    def strike(self, number: int, kind: str, chance: random.Random) -> Struck:
        """One fault, judged."""
        folder = self.work / f"fault-{number}"
        if kind.startswith("page "):
            struck = self._strike_page(kind, folder, chance)
        elif kind == "damaged sound":
            struck = self._damage_sound(folder, chance)
        elif kind == "damaged logbook":
            struck = self._damage_logbook(folder, chance)
        else:
            struck = self._strike_command(kind, folder, chance)
        if not (struck.problems or struck.lost or struck.doubled):
            shutil.rmtree(folder)
        return struck

    def _strike_command(self, kind: str, folder: Path, chance: random.Random) -> Struck:
        scene = chance.choice(SCENES)
        self.measure(scene)
        lay_out(scene, self.kit, folder)
        name, nth = chance.choice(self.writes[scene.name])
        struck = Struck(kind, scene.name, f"at {name} {nth}")
        words, log = scene.words(folder), self.work / "strace.txt"
        if kind == "killed":
            done = run(words, scene.keys, killing((name, nth)))
            struck.missed = done.code != -9
        elif kind == "no room":
            nth = chance.choice([n for call, n in self.writes[scene.name] if call == "pwrite64"])
            struck.where = f"from pwrite64 {nth} on"
            inject = f"inject=pwrite64:error=ENOSPC:when={nth}+"
            done = run(words, scene.keys, strace("-o", str(log), "-e", inject))
            struck.missed = "(INJECTED)" not in log.read_text(errors="replace")
        elif kind == "small disk":
            room = chance.randint(0, 500)
            struck.where = f"{room} kB of room"
            done = run_in_small_disk(folder, room, words, scene.keys)
            struck.missed = done.code == 0
        else:
            struck.where = "files and folder"
            done = run_read_only(folder, words, scene.keys)
        struck.problems += done.problems()
        struck.said = " ".join(done.sentences())
        self._judge(scene, folder, done, struck)
        return struck

    def _judge(self, scene: Scene, folder: Path, done: Done, struck: Struck) -> None:
        """The logbook right after the fault, then the next command, then the logbook again."""
        before, after = self.worth[scene.name]
        path = folder / "log.db"
        struck.problems += opens(path)
        if struck.problems:
            return
        now = all_of(path)
        if scene.at_once and not same(now, before) and not same(now, after):
            struck.problems.append(f"neither as before nor as after: {unlike(now, after)}")
        if not scene.changes_log:
            struck.lost += (before["log"] - now["log"]).total()
        struck.doubled += doubled(path)
        kept = done.out.count(" waiting)") - 1  # each further row was shown after a decision
        if scene.name == "review in the terminal" and kept > 0:
            struck.lost += max(0, kept - (now["log"] - before["log"]).total())
        struck.problems += whole_copy(folder / "copy.db")
        again = run((scene.again or scene.words)(folder), "" if scene.again else scene.keys)
        struck.problems += again.problems()
        if again.code == 2:
            struck.said += f" / then: {' '.join(again.sentences())}"
        if scene.name == "backup":
            struck.problems += whole_copy(folder / "copy.db", needed=True)
        struck.problems += opens(path)
        now = all_of(path)
        if scene.repeats and not same(now, after):
            struck.problems.append(f"not as if nothing had struck: {unlike(now, after)}")
        if not scene.changes_log:
            struck.lost += (before["log"] - now["log"]).total()
        struck.doubled += doubled(path)

    def _strike_page(self, kind: str, folder: Path, chance: random.Random) -> Struck:
        scene = Scene("page", lambda f: fieldvoice(f, "review", "--no-browser"))
        lay_out(scene, self.kit, folder)
        path = folder / "log.db"
        before = log_of(path)
        if "page" not in self.writes:
            self._measure_page(scene)
        name, nth = chance.choice(self.writes["page"])
        log = self.work / "strace.txt"
        if kind == "page killed":
            struck = Struck(kind, scene.name, f"at {name} {nth}")
            injected = killing((name, nth))
        else:
            nth = chance.choice([n for call, n in self.writes["page"] if call == "pwrite64"])
            struck = Struck(kind, scene.name, f"from pwrite64 {nth} on")
            inject = f"inject=pwrite64:error=ENOSPC:when={nth}+"
            injected = strace("-o", str(log), "-e", inject)
        visit = visit_page(scene.words(folder), path, injected, chance)
        struck.missed = not (visit.died if kind == "page killed" else visit.said)
        struck.problems += visit.problems
        struck.said = visit.said
        struck.problems += opens(path)
        if struck.problems:
            return struck
        now = log_of(path)
        struck.lost += (before - now).total() + visit.lost(path)
        struck.doubled += doubled(path)
        again = run(fieldvoice(folder, "review", "--accept-unflagged"))
        struck.problems += again.problems() + opens(path)
        struck.lost += (now - log_of(path)).total()
        struck.doubled += doubled(path)
        return struck

    def _measure_page(self, scene: Scene) -> None:
        folder, log = self.work / "whole-page", self.work / "strace.txt"
        lay_out(scene, self.kit, folder)
        visit = visit_page(
            scene.words(folder), folder / "log.db", strace("-o", str(log)), random.Random(0)
        )
        assert not visit.problems and visit.confirmed, visit
        self.writes["page"] = writes_in(log)
        shutil.rmtree(folder)

    def _damage_sound(self, folder: Path, chance: random.Random) -> Struck:
        scene = SCENES[0]
        lay_out(scene, self.kit, folder)
        before = log_of(folder / "log.db")
        sound = chance.choice(sorted(path.name for path in folder.glob("talk.*")))
        where = damage_file(folder / sound, chance)
        struck = Struck("damaged sound", scene.name, f"{sound}: {where}")
        done = run(adding(folder, sound))
        struck.problems += done.problems() + opens(folder / "log.db")
        struck.said = " ".join(done.sentences())
        shutil.copy(self.kit / sound, folder / f"whole-{sound}")
        again = run(adding(folder, f"whole-{sound}"))
        struck.problems += again.problems() + opens(folder / "log.db")
        if again.code != 0:
            struck.problems.append(f"the whole recording is refused: {again.err}")
        struck.lost += (before - log_of(folder / "log.db")).total()
        struck.doubled += doubled(folder / "log.db")
        return struck

    def _damage_logbook(self, folder: Path, chance: random.Random) -> Struck:
        """Any command goes on or says a sentence; the backup brings everything back."""
        lay_out(SCENES[0], self.kit, folder)
        path = folder / "log.db"
        where = damage_logbook(path, chance)
        struck = Struck("damaged logbook", "", where)
        broken = bool(faults_in(path))
        for words in (
            ["log"], ["drafts"], ["hive", "7"], ["review", "--accept-unflagged"],
            ["export", "--csv", str(folder / "out.csv")], ["backup", str(folder / "later.db")],
        ):  # fmt: skip
            done = run(fieldvoice(folder, *words))
            struck.scene = struck.scene or (words[0] if done.code else "")
            struck.said = struck.said or " ".join(done.sentences())
            struck.problems += [f"{words[0]}: {problem}" for problem in done.problems()]
            # What only reads does not look at the whole file; what writes or copies it does.
            if words[0] in ("review", "backup") and broken and "restore" not in done.err:
                struck.problems.append(f"{words[0]} does not name the next step: {done.err}")
        struck.problems += whole_copy(folder / "later.db")
        done = run(fieldvoice(folder, "restore", folder / "backup.db", "--yes"))
        struck.problems += done.problems() + opens(path)
        if done.code != 0:
            struck.problems.append(f"restore: {done.err}")
        else:
            backed_up = log_of(self.kit / "backup.db")
            struck.lost += (backed_up - log_of(path)).total()
            struck.doubled += doubled(path)
            if not list(folder.glob("log-before-*")):
                struck.problems.append("the damaged logbook was not put aside")
        return struck


def opens(path: Path) -> list[str]:
    """What is wrong with a logbook, as the program and as SQLite see it."""
    try:
        with open_logbook(path):
            pass
    except FieldvoiceError as error:
        return [f"it does not open: {error}"]
    return faults_in(path)


def whole_copy(copy: Path, *, needed: bool = False) -> list[str]:
    """A file under a backup's name is a whole backup."""
    if not copy.exists():
        return ["there is no copy"] if needed else []
    try:
        check(copy)
    except FieldvoiceError as error:
        return [f"a copy that is not whole: {error}"]
    return []


def same(one: dict[str, Counter], other: dict[str, Counter]) -> bool:
    """Whether two logbooks say the same."""
    return not unlike(one, other)


def unlike(one: dict[str, Counter], other: dict[str, Counter]) -> list[str]:
    """In what two logbooks differ."""
    return [
        f"{name}: {(one[name] - other[name]).total()} more, {(other[name] - one[name]).total()} less"
        for name in one
        if one[name] != other[name]
    ]


IN_A_SMALL_DISK = """
set -e
disk=$1 folder=$2 room=$3
shift 3
mount -t tmpfs -o size=64m tmpfs "$disk"
cp -a "$folder/." "$disk/"
mount --bind "$disk" "$folder"
used=$(df --output=used -k "$folder" | tail -n 1)
mount -o remount,size=$((used + room))k "$disk"
code=0
"$@" || code=$?
umount "$folder"
rm -rf "$folder"/*
cp -a "$disk/." "$folder/"
exit $code
"""


def run_in_small_disk(folder: Path, room: int, words: list[str], keys: str) -> Done:
    """The folder on a disk of its own with so many kilobytes left, copied back afterwards."""
    disk = folder.with_name(folder.name + "-disk")
    disk.mkdir()
    space = ("unshare", "--mount", "--map-root-user", "bash", "-c", IN_A_SMALL_DISK, "disk",
             str(disk), str(folder), str(room))  # fmt: skip
    done = run(words, keys, space)
    disk.rmdir()
    return done


def run_read_only(folder: Path, words: list[str], keys: str) -> Done:
    """Nothing there may be written; root is held to that too."""
    for path in folder.iterdir():
        path.chmod(0o444)
    folder.chmod(0o555)
    bound = ("setpriv", "--bounding-set=-dac_override,-dac_read_search")
    done = run(words, keys, bound)
    folder.chmod(0o755)
    for path in folder.iterdir():
        path.chmod(0o644)
    return done


def strikes(count: int, seed: int, work: Path) -> list[Struck]:
    """So many faults, of all kinds, the same for the same seed."""
    wheel = [kind for kind, number in KINDS.items() for _ in range(number)]
    harness = Harness(work)
    found: list[Struck] = []
    number = 0
    while len(found) < count:
        assert number < 3 * count + 30, "most faults strike nothing"
        kind = wheel[len(found) * STEP % len(wheel)]
        struck = harness.strike(number, kind, random.Random(f"{seed}/{number}"))
        bad = struck.problems + [f"{struck.lost} lost, {struck.doubled} doubled"] * bool(
            struck.lost or struck.doubled
        )
        for problem in bad:
            print(f"fault {number} ({struck.kind}, {struck.scene}, {struck.where}): {problem}")
        if bad or not struck.missed:
            found.append(struck)
        number += 1
    return found


def table(found: list[Struck]) -> str:
    """What struck, and what came of it."""
    lines = [
        f"{'fault':<18}{'number':>8}{'lost':>8}{'doubled':>9}{'problems':>10}{'sentences':>11}"
    ]
    for kind in KINDS:
        of = [struck for struck in found if struck.kind == kind]
        lines.append(
            f"{kind:<18}{len(of):>8}{sum(s.lost for s in of):>8}{sum(s.doubled for s in of):>9}"
            f"{sum(bool(s.problems) for s in of):>10}{sum(bool(s.said) for s in of):>11}"
        )
    return "\n".join(lines)


def main() -> None:
    """Strike, print the table, and fail if anything was lost."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--count", type=int, default=500)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--keep", type=Path, help="keep the folders of faults that showed a problem")
    ask.add_argument("--show", action="store_true", help="print each fault and its sentence")
    asked = ask.parse_args()
    started = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        found = strikes(asked.count, asked.seed, asked.keep or Path(folder))
    if asked.show:
        for struck in found:
            print(f"{struck.kind} | {struck.scene} | {struck.where} | {struck.said}")
    print(table(found))
    scenes = Counter(struck.scene for struck in found if struck.kind not in ("damaged logbook",))
    print("scenes: " + ", ".join(f"{name} {number}" for name, number in scenes.most_common()))
    lost, twice = sum(s.lost for s in found), sum(s.doubled for s in found)
    bad = sum(bool(s.problems) for s in found)
    print(
        f"{len(found)} faults in {time.monotonic() - started:.0f} s (seed {asked.seed}): {lost} "
        f"confirmed rows lost, {twice} doubled, {bad} with problems."
    )
    sys.exit(bool(lost or twice or bad))


if __name__ == "__main__":
    main()
