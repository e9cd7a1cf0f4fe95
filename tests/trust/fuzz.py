"""Give the program thousands of bad inputs; each is taken or refused in one sentence.

    python -m tests.trust.fuzz --count 10000 [--seed 1] [--only KIND] [--number N]

A child process takes them, so that a decoder that dies, an input that takes more than ten
seconds or one that takes more than two gigabytes is seen for what it is. `--only KIND
--number N` gives one of them again in this process, with its traceback. `--silence` hears ten
hours of silence with the installed command (minutes).
"""

from __future__ import annotations

import argparse
import contextlib
import json
import resource
import select
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from tests.makers import COMMAND
from tests.trust.bombs import wav
from tests.trust.inputs import KINDS, Bench, give, warm_up

SECONDS = 10.0
BYTES = 2 << 30


@dataclass(frozen=True, slots=True)
class Given:
    """One input and what came of it."""

    kind: str
    number: int
    outcome: str  # "taken", "refused: ...", "fault: ...", "hang", "died: ..."
    seconds: float = 0.0
    peak: int = 0  # bytes, of the process until then

    @property
    def bad(self) -> bool:
        """Whether a keeper would have seen something other than a sentence."""
        return not self.outcome.startswith(("taken", "refused")) or self.peak > BYTES


def own_peak() -> int:
    """The most memory of this process, in bytes.

    Not `ru_maxrss`: a process takes that over from the one that started it.
    """
    status = Path("/proc/self/status").read_text()
    return int(status.partition("VmHWM:")[2].split()[0]) * 1024


def plan(count: int, only: str | None) -> list[str]:
    """Kinds in turn, as often as each is to come."""
    if only:
        return [only] * count
    wheel = [kind for kind, (often, _) in KINDS.items() for _ in range(often)]
    step = 37  # has no divisor in common with a hundred: kinds come mixed
    return [wheel[(n * step) % len(wheel)] for n in range(count)]


class Child:
    """A process that takes inputs one by one."""

    def __init__(self, seed: int) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.trust.fuzz", "--child", "--seed", str(seed)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        self._line(120)

    def give(self, kind: str, number: int) -> Given:
        """Give an input and wait for what comes of it, as long as it may take."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{kind} {number}\n")
        self.process.stdin.flush()
        line = self._line(SECONDS)
        if line is None:
            return Given(kind, number, f"hang: no answer in {SECONDS:.0f} s", SECONDS)
        if not line:
            return Given(kind, number, f"died: code {self.process.wait()}")
        return Given(kind, number, **json.loads(line))

    def _line(self, seconds: float) -> str | None:
        ready, _, _ = select.select([self.process.stdout], [], [], seconds)
        assert self.process.stdout is not None
        return self.process.stdout.readline() if ready else None

    def stop(self) -> None:
        """End it, whatever it is doing."""
        self.process.kill()
        self.process.communicate()


def child(seed: int) -> None:
    """Take inputs from stdin until there are no more."""
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        warm_up(bench)
        out = sys.stdout
        print("ready", file=out, flush=True)
        for line in sys.stdin:
            kind, number = line.split()
            started = time.monotonic()
            try:
                with contextlib.redirect_stderr(None):
                    outcome = give(bench, kind, f"{seed}/{kind}/{number}")
            except BaseException as error:  # noqa: BLE001 - what it is, is told
                last = traceback.extract_tb(error.__traceback__)[-1]
                where = f"{Path(last.filename).name}:{last.lineno}"
                outcome = f"fault: {type(error).__name__} at {where}: {str(error)[:300]}"
            told = {
                "outcome": outcome,
                "seconds": time.monotonic() - started,
                "peak": own_peak(),
            }
            print(json.dumps(told), file=out, flush=True)


def fuzz(count: int, seed: int, only: str | None = None) -> list[Given]:
    """So many inputs, the same for the same seed."""
    found = []
    taker = Child(seed)
    try:
        for number, kind in enumerate(plan(count, only)):
            given = taker.give(kind, number)
            found.append(given)
            if given.bad:
                print(f"{kind} {number}: {given.outcome} ({given.peak / 1e6:.0f} MB)", flush=True)
            if not given.outcome.startswith(("taken", "refused", "fault")) or given.peak > BYTES:
                taker.stop()
                taker = Child(seed)
    finally:
        taker.stop()
    return found


def table(found: list[Given]) -> str:
    """What was given and what came of it."""
    lines = [f"{'input':<12}{'number':>8}{'taken':>8}{'refused':>9}{'bad':>6}{'slowest s':>11}"]
    for kind in KINDS:
        of = [given for given in found if given.kind == kind]
        ends = Counter(given.outcome.partition(":")[0] for given in of)
        lines.append(
            f"{kind:<12}{len(of):>8}{ends['taken']:>8}{ends['refused']:>9}"
            f"{sum(g.bad for g in of):>6}{max((g.seconds for g in of), default=0):>11.2f}"
        )
    return "\n".join(lines)


def hear_silence() -> bool:
    """Whether ten hours of nothing are heard in less than two gigabytes."""
    with tempfile.TemporaryDirectory() as folder:
        long = wav(Path(folder) / "long.wav", 36_000)
        started = time.monotonic()
        done = subprocess.run(
            [COMMAND, "transcribe", long], capture_output=True, text=True, check=False
        )
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss * 1024
    print(
        f"ten hours of silence: code {done.returncode}, {done.stdout.strip()[:80]!r}, "
        f"{time.monotonic() - started:.0f} s, {peak / 1e6:.0f} MB. {done.stderr.strip()[-200:]}"
    )
    return done.returncode in (0, 2) and "Traceback" not in done.stderr and peak < BYTES


def main() -> None:
    """Give them, print the table, and fail if one was bad."""
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--count", type=int, default=10_000)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--only", choices=KINDS)
    ask.add_argument("--number", type=int, help="give this one again, here")
    ask.add_argument("--silence", action="store_true", help="hear ten hours of silence instead")
    ask.add_argument("--child", action="store_true", help=argparse.SUPPRESS)
    asked = ask.parse_args()
    if asked.child:
        child(asked.seed)
        return
    if asked.number is not None:
        with tempfile.TemporaryDirectory() as folder:
            bench = Bench(Path(folder))
            print(give(bench, asked.only, f"{asked.seed}/{asked.only}/{asked.number}"))
        return
    if asked.silence:
        sys.exit(not hear_silence())
    started = time.monotonic()
    found = fuzz(asked.count, asked.seed, asked.only)
    print(table(found))
    bad = [given for given in found if given.bad]
    ends = Counter(given.outcome.partition(":")[0] for given in bad)
    print(
        f"{len(found)} inputs in {time.monotonic() - started:.0f} s (seed {asked.seed}): "
        f"{ends['fault']} tracebacks, {ends['hang']} hangs, {ends['died']} deaths, at most "
        f"{max(g.peak for g in found) / 1e6:.0f} MB."
    )
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
