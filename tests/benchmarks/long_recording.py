"""A recording of two hours: memory, time left, and three kills at random.

    python tests/benchmarks/long_recording.py                # about twenty minutes on two cores
    python tests/benchmarks/long_recording.py --minutes 20

The recording is yard talk by synthetic voices in wind and hum, half of it wind and hum
alone. It is added to a logbook once without a break, and to another with kill -9 at three
random moments; both must hold the same transcript.
"""

# ruff: noqa: E402  # the tests' folder has to be on the path first
from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
import wave
from pathlib import Path
from tempfile import TemporaryDirectory, gettempdir

import numpy as np
import psutil

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "hearing")]

from yard_audio import speak, talk

from fieldvoice.hearing.decode import RATE
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import find_recording, transcript_of
from fieldvoice.logbook.register_changes import add_hive
from fieldvoice.pipeline import AddOptions, add_recordings, hear_recording, make_ready, utc_now
from fieldvoice.types import Transcript

CACHE = Path(gettempdir()) / "fieldvoice-benchmark"
VOICES = ("rms", "espeak-us")
WHEN = "2026-05-03T09:30:00+00:00"


def make_recording(path: Path, minutes: float) -> list[tuple[float, float]]:
    """Where nobody speaks, in seconds. Talk and as much wind and hum, in turns, until the recording is long enough."""
    from hearing_sounds import hum, mixed, wind  # brings PyTorch, which the driver must not hold

    left = int(minutes * 60 * RATE)
    turn, at = 0, 0
    silent = []
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        while left > 0:
            said = speak(VOICES[turn % len(VOICES)], talk(301 + turn % 4), CACHE)
            length = len(said) / RATE + 1
            loud = mixed(said, wind(length, turn + 1) + 0.3 * hum(length, turn + 2), 10.0)
            quiet = wind(length, turn + 50) + 0.3 * hum(length, turn + 60)
            for sound in (loud, quiet):
                if sound is quiet:
                    silent.append((at / RATE, (at + len(quiet)) / RATE))
                piece = np.clip(sound[:left], -1, 1)
                out.writeframes((piece * 32767).astype(np.int16).tobytes())
                left -= len(piece)
                at += len(piece)
            turn += 1
    return silent


def invented(transcript: Transcript, silent: list[tuple[float, float]]) -> list[str]:
    """Words that were heard where nobody speaks, half a second of slack."""
    words = [w for s in transcript.segments for w in s.words]
    return [
        w.word for w in words if any(a + 0.5 < (w.start + w.end) / 2 < b - 0.5 for a, b in silent)
    ]


def fresh_logbook(path: Path) -> Path:
    """A logbook with the register of the talk."""
    with open_logbook(path, create=True) as logbook:
        for label in talk(301).register:
            add_hive(logbook, label, "home", utc_now())
    return path


def drive(logbook: Path, recording: Path, times: Path) -> None:
    """`fieldvoice add`, in this process, writing down what its bar would say of the time left."""
    from rich.console import Console
    from rich.progress import Progress

    bars = Progress(console=Console(quiet=True), speed_estimate_period=600)
    task = bars.add_task("hear", total=None)
    told: list[tuple[float, float | None]] = []

    def progress(stage: str, done: float, total: float) -> None:
        if stage == "hear":
            bars.update(task, completed=done, total=total)
            told.append((time.monotonic(), bars.tasks[0].time_remaining))

    (added,) = add_recordings(
        logbook,
        [recording],
        AddOptions(recorded_at=WHEN, hear=hear_recording, ready=make_ready, progress=progress),
    )
    if added.outcome == "failed":
        sys.exit(added.problem)
    end = told[-1][0] if told else 0.0  # it was through when it was killed
    times.write_text(json.dumps([[end - at, left] for at, left in told]))


def windows_in(logbook: Path) -> int:
    """How many windows are kept."""
    with open_logbook(logbook) as opened:
        return int(opened.execute("SELECT count(*) FROM windows").fetchone()[0])


def start(logbook: Path, recording: Path, times: Path) -> subprocess.Popen[bytes]:
    """The driver in a process of its own."""
    return subprocess.Popen(
        [sys.executable, __file__, "--drive", str(logbook), str(recording), str(times)]
    )


def watched(process: subprocess.Popen[bytes]) -> float:
    """Wait for the end; the most megabytes that all its processes held together."""
    peak = 0
    root = psutil.Process(process.pid)
    while process.poll() is None:
        try:
            peak = max(
                peak, sum(p.memory_info().rss for p in [root, *root.children(recursive=True)])
            )
        except psutil.NoSuchProcess:
            continue
        time.sleep(0.5)
    if process.returncode:
        sys.exit(f"the driver ended with {process.returncode}")
    return peak / 1e6


def time_left_errors(times: Path) -> tuple[float, list[float]]:
    """Share of reports within a third of the truth between 10 % and 90 % of the way; at quarters."""
    raw = json.loads(times.read_text())
    whole = raw[0][0]
    inside = [(left, told) for left, told in raw if told is not None and 0.1 < left / whole < 0.9]
    good = sum(abs(told - left) <= left / 3 for left, told in inside)
    quarters = []
    for part in (0.75, 0.5, 0.25):
        left, told = min(inside, key=lambda pair: abs(pair[0] - part * whole))
        quarters.append(told / left)
    return good / len(inside), quarters


def transcript_in(logbook: Path, recording: Path) -> Transcript:
    """What was heard."""
    from fieldvoice.hearing.decode import sound_hash

    with open_logbook(logbook) as opened:
        known = find_recording(opened, sound_hash(recording))
        if known is None:
            sys.exit(f"{logbook} does not know the recording")
        return transcript_of(opened, known.uuid)


def main() -> None:
    """One run without a break, one with three kills."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=120.0)
    parser.add_argument("--kills", type=int, default=3)
    parser.add_argument("--seed", type=int, default=time.time_ns() % 10_000)
    parser.add_argument("--drive", nargs=3, type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.drive:
        drive(*args.drive)
        return
    rng = np.random.default_rng(args.seed)
    with TemporaryDirectory() as folder:
        here = Path(folder)
        recording = here / "long.wav"
        silent = make_recording(recording, args.minutes)
        whole, broken = fresh_logbook(here / "a.db"), fresh_logbook(here / "b.db")
        begun = time.monotonic()
        peak = watched(start(whole, recording, here / "a.json"))
        took = time.monotonic() - begun
        count = windows_in(whole)
        good, quarters = time_left_errors(here / "a.json")
        print(
            f"{args.minutes:g} minutes, {count} windows: {took:.0f} s "
            f"({args.minutes * 60 / took:.1f} times real time), peak {peak:.0f} MB", flush=True,
        )  # fmt: skip
        print(
            f"time left within a third in {100 * good:.0f} % of reports; told / true at a "
            f"quarter, half, three quarters: {', '.join(f'{q:.2f}' for q in quarters)}", flush=True,
        )  # fmt: skip
        words = invented(transcript_in(whole, recording), silent)
        print(
            f"words from {sum(b - a for a, b in silent) / 60:.0f} minutes without speech: "
            f"{len(words)} {words[:20]}", flush=True,
        )  # fmt: skip
        if not args.kills:
            return
        for stop in sorted(rng.integers(1, count, args.kills)):
            process = start(broken, recording, here / "b.json")
            while process.poll() is None and windows_in(broken) < stop:
                time.sleep(0.2)
            time.sleep(float(rng.random()))
            process.kill()
            process.wait()
            print(f"killed with {windows_in(broken)} of {count} windows kept", flush=True)
        watched(start(broken, recording, here / "b.json"))
        same = transcript_in(whole, recording) == transcript_in(broken, recording)
        print(f"seed {args.seed}: the transcripts are {'equal' if same else 'NOT equal'}")
        sys.exit(not same)


if __name__ == "__main__":
    main()
