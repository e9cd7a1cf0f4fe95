"""How fast fieldvoice hears, beside plain openai-whisper and plain faster-whisper.

    python tests/benchmarks/hearing_speed.py    # about ten minutes on two free cores

The same weights (base), beam 5, the same sound, turn by turn in one run; medians of five.
fieldvoice hears with all it does: voice detection, labels weighed against a register of 48,
the second model, doubts. One recording is talk without a break, one is half wind and hum.
"""

# ruff: noqa: E402  # the tests' folder has to be on the path first
from __future__ import annotations

import argparse
import statistics
import sys
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "hearing")]

from hearing import CACHE, system
from hearing_sounds import RATE, hum, mixed, wind, write
from yard_audio import speak, talk

FIELDVOICE = "fieldvoice ctranslate2 base"
PLAIN = "plain faster-whisper base"
WHISPER = "plain openai-whisper base"
SECONDS = 80


def recordings() -> dict[str, Path]:
    """Talk in wind at 10 dB; and the same with as much wind and hum after it."""
    text = talk(102)
    said = speak("rms", text, CACHE)[: SECONDS * RATE]
    loud = mixed(said, wind(SECONDS + 1, 5) + 0.3 * hum(SECONDS + 1, 6), 10.0)
    quiet = 0.3 * (wind(SECONDS, 7) + 0.3 * hum(SECONDS, 8))
    return {
        "talk": write(CACHE / "speed-talk.wav", loud, "pcm_s16le"),
        "half silent": write(CACHE / "speed-half.wav", np.concatenate([loud, quiet]), "pcm_s16le"),
    }


def main() -> None:
    """Rounds of each system on each recording, then medians and ratios."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--systems", nargs="*", default=[FIELDVOICE, PLAIN, WHISPER])
    parser.add_argument("--recordings", nargs="*", default=["talk", "half silent"])
    args = parser.parse_args()
    CACHE.mkdir(parents=True, exist_ok=True)
    sounds = {name: path for name, path in recordings().items() if name in args.recordings}
    hears = {name: system(name) for name in args.systems}
    register = talk(102).register
    times: dict[tuple[str, str], list[float]] = {}
    for heard in hears.values():  # once before it counts: caches, threads
        heard(next(iter(sounds.values())), register)
    for _ in range(args.rounds):
        for sound, path in sounds.items():
            for name, heard in hears.items():
                begun = time.perf_counter()
                heard(path, register)
                times.setdefault((sound, name), []).append(time.perf_counter() - begun)
                print(f"{sound:12} {name:30} {times[sound, name][-1]:.2f} s", flush=True)
    for sound in sounds:
        ours = statistics.median(times[sound, FIELDVOICE])
        for name in args.systems:
            theirs = statistics.median(times[sound, name])
            print(f"{sound:12} {name:30} median {theirs:6.2f} s, {theirs / ours:.2f} times ours")


if __name__ == "__main__":
    main()
