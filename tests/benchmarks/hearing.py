"""How well and how fast fieldvoice hears, in one table.

    python tests/benchmarks/hearing.py            # about twenty minutes on two cores
    python tests/benchmarks/hearing.py --quick    # two voices, two conditions

Engine, model and condition in the rows; word, number and label errors, flags, invented
words, speed and memory in the columns. Plain openai-whisper and plain faster-whisper
are measured on the same sound. Voices and texts are none the program was tuned on;
the human clips are those of the tests.
"""

# ruff: noqa: E402  # the tests' folder has to be on the path first
from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import gettempdir

import numpy as np

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "hearing")]

from hearing_sounds import RATE, hum, joined, librivox, load, mixed, prompts, wind, write
from scoring_talk import Score, score
from yard_audio import VOICES, Talk, speak, talk

from fieldvoice.hearing.engines.load import load_engine, load_second
from fieldvoice.hearing.transcribe import hear
from fieldvoice.hearing.vocabulary import Vocabulary, vocabulary_from
from fieldvoice.hearing.weights import find_weights
from fieldvoice.trade.load import trade_file
from fieldvoice.types import Segment, Transcript, Word

CACHE = Path(gettempdir()) / "fieldvoice-benchmark"
CONDITIONS = ("clean", "20", "10", "5", "0")
SEEDS = (101, 102)  # of the texts; never those of tuning
TERMS = frozenset(
    [
        "brood",
        "queen",
        "comb",
        "combs",
        "syrup",
        "drones",
        "mites",
        "patty",
        "swarm",
        "seams",
        "strips",
        "pollen",
        "feeder",
    ]
)
SYSTEMS = (
    "fieldvoice ctranslate2 yard",
    "fieldvoice ctranslate2 tiny.en",
    "fieldvoice ctranslate2 base",
    "fieldvoice whisper yard",
    "plain faster-whisper tiny.en",
    "plain faster-whisper base",
    "plain openai-whisper base",
)

Hear = Callable[[Path, tuple[str, ...]], Transcript]


def system(name: str) -> Hear:
    """What is measured, loaded: a path and a register give a transcript."""
    kind, engine, model = name.split()
    if kind == "fieldvoice":
        loaded, second = load_engine(engine, model), load_second(model)

        def heard(path: Path, register: tuple[str, ...]) -> Transcript:
            known = vocabulary_from(trade_file("speech"), register) if register else Vocabulary()
            return hear(path, engine=loaded, second=second, vocabulary=known)

        return heard
    return _faster(model) if engine == "faster-whisper" else _openai(model)


def _faster(model: str) -> Hear:
    """faster-whisper as its README shows it: int8, beam 5, two threads, no VAD."""
    from faster_whisper import WhisperModel

    loaded = WhisperModel(
        str(find_weights(model).folder), device="cpu", compute_type="int8", cpu_threads=2
    )

    def heard(path: Path, register: tuple[str, ...]) -> Transcript:
        found, info = loaded.transcribe(str(path), language="en", beam_size=5, word_timestamps=True)
        parts = [(s.start, s.end, [(w.word, w.start, w.end) for w in s.words or ()]) for s in found]
        return _transcript(parts, info.duration)

    return heard


def _openai(model: str) -> Hear:
    """openai-whisper on the same weights, float32, beam 5."""
    import torch

    from fieldvoice.hearing.engines.openai import load_whisper

    torch.set_num_threads(2)
    loaded = load_whisper(find_weights(model).folder, model)

    def heard(path: Path, register: tuple[str, ...]) -> Transcript:
        sound = load(path)
        out = loaded.transcribe(
            sound, language="en", beam_size=5, best_of=5, fp16=False, word_timestamps=True
        )
        parts = [
            (s["start"], s["end"], [(w["word"], w["start"], w["end"]) for w in s["words"]])
            for s in out["segments"]
        ]
        return _transcript(parts, len(sound) / RATE)

    return heard


def _transcript(parts: list, duration: float) -> Transcript:
    segments = tuple(
        Segment(a, b, "".join(w[0] for w in words).strip(),
                tuple(Word(w[0].strip(), w[1], w[2], 1.0) for w in words))
        for a, b, words in parts
    )  # fmt: skip
    return Transcript(" ".join(s.text for s in segments), "en", "", "", duration, segments)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table."""

    system: str
    condition: str
    score: Score
    seconds: float  # of sound
    wall: float
    unheard: float  # seconds


def noisy(sound: np.ndarray, condition: str, seed: int) -> np.ndarray:
    """The sound in wind and hum at so many decibels."""
    if condition == "clean":
        return sound
    length = len(sound) / RATE + 1
    return mixed(sound, wind(length, seed) + 0.3 * hum(length, seed + 9), float(condition))


def measure(
    name: str, heard: Hear, condition: str, voices: tuple[str, ...], texts: list[Talk]
) -> Row:
    """All voices and texts of one condition."""
    total, seconds, wall, unheard = Score(), 0.0, 0.0, 0.0
    path = CACHE / f"now-{time.time_ns()}.wav"
    for voice in voices:
        for seed, text in enumerate(texts, 1):
            write(path, noisy(speak(voice, text, CACHE), condition, seed), "pcm_s16le")
            begun = time.perf_counter()
            transcript = heard(path, text.register)
            wall += time.perf_counter() - begun
            seconds += transcript.duration
            unheard += sum(u.end - u.start for u in transcript.unheard)
            total = total + score(text.marked, transcript, TERMS)
    path.unlink()
    return Row(name, condition, total, seconds, wall, unheard)


def human(name: str, heard: Hear) -> Row:
    """LibriVox sentences and telephone prompts, without a register."""
    clips = [*librivox(), *prompts(24)]
    sound, _ = joined([load(path) for path, _ in clips], gap=0.8)
    path = write(CACHE / "human.wav", sound, "pcm_s16le")
    begun = time.perf_counter()
    transcript = heard(path, ())
    wall = time.perf_counter() - begun
    said = " ".join(text if text[-1] in ".!?" else f"{text}." for _, text in clips)
    return Row(name, "human", score(said, transcript), transcript.duration, wall, 0.0)


def silence(name: str, heard: Hear) -> tuple[float, float]:
    """Words a minute from ten minutes of wind and hum, and from as much digital silence."""
    found = []
    for sound in (wind(600, 31) + 0.3 * hum(600, 32), np.zeros(600 * RATE, np.float32)):
        path = write(CACHE / "nothing.wav", sound, "pcm_s16le")
        text = heard(path, ("1", "2", "A3")).text
        found.append(len([w for w in text.split() if any(map(str.isalnum, w))]) / 10)
    return found[0], found[1]


HEAD = (
    f"{'system':31} {'cond':>5} {'WER':>5} {'number':>6} {'nr fl':>9} {'label':>6} {'lb fl':>9} "
    f"{'terms':>5} {'unh s':>5} {'RTF':>6}"
)


def line(row: Row) -> str:
    """One row as text; a flag column is wrong ones flagged / right ones flagged, percent."""
    s = row.score

    def share(part: float, whole: float) -> str:
        return f"{100 * part / whole:.1f}" if whole else "-"

    numbers = f"{share(s.numbers_wrong_flagged, s.numbers_wrong)}/{share(s.numbers_right_flagged, s.numbers - s.numbers_wrong)}"
    labels = f"{share(s.labels_wrong_flagged, s.labels_wrong)}/{share(s.labels_right_flagged, s.labels - s.labels_wrong)}"
    return (
        f"{row.system:31} {row.condition:>5} {share(s.word_errors, s.words):>5} "
        f"{share(s.numbers_wrong, s.numbers):>6} {numbers:>9} {share(s.labels_wrong, s.labels):>6} "
        f"{labels:>9} {share(s.terms_found, s.terms):>5} {row.unheard:>5.0f} {row.wall / row.seconds:>6.3f}"
    )


def run_one(name: str, args: argparse.Namespace) -> None:
    """One system in a process of its own, so that its peak memory is its own."""
    heard = system(name)
    texts = [talk(seed) for seed in args.texts]
    for condition in args.conditions:
        row = measure(name, heard, condition, args.voices, texts)
        print(line(row), flush=True)
        if args.misses:
            print(json.dumps(row.score.misses))
    if not (args.quick or args.talk_only):
        print(line(human(name, heard)), flush=True)
        windy, silent = silence(name, heard)
        print(f"{name:31} invented words a minute: wind and hum {windy:.1f}, silence {silent:.1f}")
    print(f"{name:31} peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024} MB")


def main() -> None:
    """Every system, one after another."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="two voices, two conditions")
    parser.add_argument("--systems", nargs="*", default=SYSTEMS)
    parser.add_argument("--conditions", nargs="*", default=CONDITIONS)
    parser.add_argument("--voices", nargs="*", default=VOICES)
    parser.add_argument("--texts", nargs="*", type=int, default=SEEDS, help="seeds of the texts")
    parser.add_argument("--misses", action="store_true", help="print the labels that went wrong")
    parser.add_argument("--talk-only", action="store_true", help="no human clips, no silence")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.quick:
        args.voices, args.conditions = args.voices[:2], ["clean", "10"]
    CACHE.mkdir(parents=True, exist_ok=True)
    if args.one:
        run_one(args.one, args)
        return
    print(HEAD, flush=True)
    options = ["--conditions", *args.conditions, "--voices", *args.voices]
    options += ["--texts", *map(str, args.texts)]
    options += ["--misses"] * args.misses + ["--quick"] * args.quick
    options += ["--talk-only"] * args.talk_only
    for name in args.systems:
        subprocess.run([sys.executable, __file__, "--one", name, *options], check=True)


if __name__ == "__main__":
    main()
