"""The installed command, called as a keeper calls it, on the demo's recordings."""

from __future__ import annotations

import json
import os
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
import numpy as np
import psutil
from makers import COMMAND

from fieldvoice.locate import shipped

DEMO = shipped("demo")
NAMES = ("orchard-may", "ridge-august", "orchard-october")
RATE = 16_000


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a call printed, how it ended, what it took."""

    code: int
    out: str
    err: str
    seconds: float
    peak_bytes: int  # of all its processes together

    def json(self) -> Any:
        return json.loads(self.out)

    def sentence(self) -> str:
        """The one line that tells a keeper what is wrong."""
        assert "Traceback" not in self.err + self.out
        lines = [line for line in self.err.splitlines() if line.startswith("fieldvoice: ")]
        assert len(lines) == 1, self.err
        return lines[0]


Call = Callable[..., Outcome]


def call(
    *words: str | Path,
    before: Sequence[str] = (),
    answers: str = "",
    home: Path,
    measure: bool = False,
) -> Outcome:
    """Run `fieldvoice WORDS...` with a home of its own; `before` wraps the command."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("FIELDVOICE_", "XDG_"))
    }
    environment |= {"HOME": str(home), "COLUMNS": "100", "TZ": "UTC"}
    started = time.monotonic()
    process = subprocess.Popen(
        [*before, str(COMMAND), *map(str, words)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        cwd=home,
    )
    peak = 0
    if measure:
        peak = watch(process)
    out, err = process.communicate(answers, timeout=280)
    return Outcome(process.returncode, out, err, time.monotonic() - started, peak)


def watch(process: subprocess.Popen[str]) -> int:
    """The most memory that the process and its children held together, sampled until it ends."""
    peak = 0
    root = psutil.Process(process.pid)
    while process.poll() is None:
        held = 0
        for one in [root, *root.children(recursive=True)]:
            try:
                held += one.memory_info().rss
            except psutil.NoSuchProcess:
                continue
        peak = max(peak, held)
        time.sleep(0.05)
    return peak


def gold_of(name: str) -> dict[str, Any]:
    """The labelled rows of one demo narration."""
    return json.loads((DEMO / "gold" / f"{name}.json").read_text(encoding="utf-8"))


def demo_sound(name: str, start: float, end: float) -> np.ndarray:
    """A piece of a demo recording, 16 kHz mono, -1 to 1."""
    resampler = av.AudioResampler("flt", "mono", RATE)
    with av.open(str(DEMO / f"{name}.ogg")) as container:
        pieces = [
            piece.to_ndarray()[0]
            for frame in container.decode(audio=0)
            for piece in resampler.resample(frame)
        ]
    return np.concatenate(pieces)[round(start * RATE) : round(end * RATE)]
