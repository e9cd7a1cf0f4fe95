"""How well and how soon spoken signals are heard, and how far the text lags the voice.

    python tests/benchmarks/listening.py heard     # share of signals heard in wind, by voice
    python tests/benchmarks/listening.py alarms    # false alarms an hour; --only human, talk, near
    python tests/benchmarks/listening.py live      # in real time: lag of the text, of answers
    python tests/benchmarks/listening.py long      # two hours: memory, drift of time stamps

Voices: Debian's espeak-ng (eight accents) and flite (four); piper's joe where it is installed.
Human speech: Debian's pocketsphinx-testdata and asterisk-core-sounds-en-g722, the demo.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import threading
import time
import wave
import zlib
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from difflib import SequenceMatcher
from importlib.util import find_spec
from itertools import product
from pathlib import Path

import numpy as np
import psutil
from yard_audio import VOICES, _sentence, speak, talk

sys.path.insert(0, str(Path(__file__).parent.parent / "hearing"))
from hearing_sounds import ASTERISK, cards, librivox, load, mixed, wind, write

from fieldvoice.hearing.decode import RATE, decode
from fieldvoice.hearing.store import MemoryStore
from fieldvoice.hearing.vad import VadOptions, spoken
from fieldvoice.hearing.window import Ear, hear_window
from fieldvoice.hearing.windows import Window, windows
from fieldvoice.listening.flac import Samples
from fieldvoice.listening.live import LONGEST, PAUSE, Live, Told
from fieldvoice.listening.record import record, session
from fieldvoice.listening.recover import join
from fieldvoice.listening.running import Running
from fieldvoice.listening.signals import find_signals
from fieldvoice.listening.source import FileSource
from fieldvoice.listening.wording import load_wording
from fieldvoice.pipeline import ear_of, hear_running
from fieldvoice.settings import Settings
from fieldvoice.types import Register, Signal, Transcript, Word

DEMO = Path(__file__).parent.parent.parent / "demo"
CACHE = Path(tempfile.gettempdir()) / "fieldvoice-benchmark-voices"
REGISTER = Register(tuple(map(str, range(1, 13))))
ACCENTS = ("en-gb-scotland", "en-029+f2", "en-gb-x-gbclan+m3", "en-gb-x-gbcwmd+f4", "en-us-nyc+m7", "en-gb+f3")  # fmt: skip
EVERY_VOICE = (
    *VOICES, "slt", "awb", *(f"espeak-{one}" for one in ACCENTS),
    *(["joe"] if find_spec("piper") else []),
)  # fmt: skip
SAID = {
    "open": ("open hive seven.", "hive twelve.", "open hive three."),
    "note": ("note to self, the fence needs mending.", "note to self, bring two supers."),
    "scratch": ("scratch that.",),
    "mark": ("mark this.",),
    "read": ("read that back.",),
    "stop": ("stop listening.",),
}
WORDING = load_wording()
ORDINARY = (
    "Four frames of brood and she is calm.",
    "Gave her two quarts of one to one.",
    "No queen cells, stores are light on the left.",
    "Mark the lid, and note the heft next time.",
    "That one needs attention before the log book is full.",
)


NEAR = (
    "Attention, the log book is wet again.",
    "Pay attention to the log book, hive seven was never written down.",
    "The log book says open hive three last.",
    "Attention to the lock box, stop at the gate.",
    "I was reading that back from the log book.",
    "At ten to one I looked, mark this frame with a pin.",
    "Note to Stephen, the log book is in the shed.",
    "Stop listening to the radio and read that label.",
    "Scratch that comb before you close hive five.",
    "She needs attention, look, both sides are spotty.",
    "A tension spring from the log splitter holds the lid.",
    "Mention in the log book that hive nine is open.",
    "No attention, no log, no book, and hive two was open.",
    "Make a note, the hive scale reads forty.",
    "My attention was on the log, but she flew.",
    "Take a note of the date and mark that lid.",
    "Strike that match and read it back to me.",
    "Attention deficit, look up, open hive entrance there.",
    "Can you read me that back of the label?",
    "Retention of the lock nut, hive stand is loose.",
    "It is in the logbook, note to myself on the last page.",
    "Attention, look both ways, now hive four.",
    "Intention or not, the log book stays in hive one.",
    "Attention please, the log by hive six is rotten.",
)
"""What is nearly a signal, and none."""


@dataclass(frozen=True, slots=True)
class Walk:
    """Signals between ordinary sentences, and when each sentence ends."""

    sound: np.ndarray
    names: tuple[str, ...]
    ends: tuple[float, ...]  # of the signals, in seconds


def walk(voice: str, seed: int, decibel: float | None) -> Walk:
    """Every way to give every signal, in a drawn order, with wind over it."""
    rng = np.random.default_rng(seed)
    said = [(name, one) for name, several in SAID.items() for one in several]
    quiet, at = [np.zeros(RATE, np.float32)], 1.0
    ends, names = [], []
    for n in rng.permutation(len(said)):
        name, sentence = said[n]
        for signal, text in ((False, str(rng.choice(ORDINARY))), (True, sentence)):
            sound = clip(voice, f"Attention logbook, {text}" if signal else text)
            at += len(sound) / RATE
            if signal:
                names.append(name)
                ends.append(at)
            pause = 3.0 if signal else 1.0
            quiet += [sound, np.zeros(int(pause * RATE), np.float32)]
            at += pause
    whole = np.concatenate(quiet)
    if decibel is not None:
        whole = mixed(whole, wind(len(whole) / RATE + 1, seed), decibel)
    return Walk(whole.astype(np.float32), tuple(names), tuple(ends))


def clip(voice: str, text: str) -> np.ndarray:
    """A sentence at half of full scale, kept for the next run."""
    CACHE.mkdir(parents=True, exist_ok=True)
    kept = CACHE / f"{voice}-{zlib.crc32(text.encode()):08x}.npy"
    if not kept.is_file():
        np.save(kept, _sentence(voice, text, CACHE))
    sound = np.load(kept)
    return (sound * 0.5 / np.abs(sound).max()).astype(np.float32)


def live_words(ear: Ear, sound: np.ndarray) -> list[Word]:
    """Words as the live hearing finds them, without waiting for time to pass."""
    stretches = spoken(iter([sound]), VadOptions(min_silence=PAUSE, longest=LONGEST))
    return words_of(ear, [next(iter(windows([stretch]))) for stretch in stretches])


def whole_words(ear: Ear, sound: np.ndarray) -> list[Word]:
    """Words of long windows, as `add` hears them; several times quicker."""
    return words_of(ear, list(windows(spoken(iter([sound])))))


def words_of(ear: Ear, cut: Sequence[Window]) -> list[Word]:
    """What is heard in windows, in seconds of the recording."""
    out = []
    with ThreadPoolExecutor(ear.engine.workers) as pool:
        for window, found in zip(cut, pool.map(lambda w: hear_window(ear, w), cut), strict=True):
            for w in found.words:
                piece = window.piece_at((w.start + w.end) / 2)
                start, end = window.time(w.start, piece), window.time(w.end, piece)
                out.append(Word(w.word, start, max(start, end), w.probability))
    return out


def hits(wanted: Sequence[str], found: Sequence[str]) -> tuple[list[bool], int]:
    """Which of the wanted were found in their order, and how many others were found."""
    blocks = SequenceMatcher(None, wanted, found, autojunk=False).get_matching_blocks()
    right = {b.a + k for b in blocks for k in range(b.size)}
    return [n in right for n in range(len(wanted))], len(found) - len(right)


def heard(seeds: Sequence[int], decibel: float, voices: Sequence[str], *, sound: bool) -> None:
    """The share of signals found as what they are: live, and in a whole recording.

    `sound`: whether the orders are weighed on it, as they are; False: by their letters alone.
    """
    ear = ear_of(Settings(), REGISTER)
    if not sound:
        ear = replace(ear, vocabulary=replace(ear.vocabulary, calls=(), orders=()))
    tally: dict[tuple[str, str], list[bool]] = {}
    others = dict.fromkeys(("live", "whole"), 0)
    for voice, seed in product(voices, seeds):
        one = walk(voice, seed, decibel)
        for way, hearing in (("live", live_words), ("whole", whole_words)):
            words = hearing(ear, one.sound)
            found = [s.name for s in find_signals(words, WORDING)]
            right, wrong = hits(one.names, found)
            others[way] += wrong
            for name, hit in zip(one.names, right, strict=True):
                for key in (voice, name, "all"):
                    tally.setdefault((way, key), []).append(hit)
            if not all(right) or wrong:
                print(f"  {way} {voice} {seed}: {one.names} {found}")
                print("   ", " ".join(w.word for w in words), flush=True)
    for (way, key), found in tally.items():
        print(f"{way:6} {key:10} {sum(found):4} of {len(found):4}  {100 * np.mean(found):5.1f} %")
    print(f"found and not given: {others}")


def near(voice: str, seed: int) -> np.ndarray:
    """The sentences that are nearly signals, in a drawn order."""
    quiet = np.zeros(RATE, np.float32)
    drawn = np.random.default_rng(seed).permutation(len(NEAR))
    return np.concatenate([part for n in drawn for part in (clip(voice, NEAR[n]), quiet)])


def talks(
    only: str, minutes: float, seeds: Sequence[int], voices: Sequence[str]
) -> Iterator[tuple[str, np.ndarray]]:
    """Speech without signals: the demo, human clips, or talk of synthetic voices."""
    if only == "demo":
        for path in sorted(DEMO.glob("*.ogg")):
            yield path.stem, load(path)
    elif only == "human":
        quiet = np.zeros(RATE // 2, np.float32)
        clips = [path for path, _ in (*librivox(), *cards())]
        clips += sorted(ASTERISK.glob("*.g722"))
        for start in range(0, len(clips), 40):
            some = clips[start : start + 40]
            yield (
                f"clips from {some[0].stem}",
                np.concatenate([part for path in some for part in (load(path), quiet)]),
            )
    elif only == "near":
        for seed, voice in product(seeds, voices):
            yield f"{voice} {seed}", near(voice, seed)
    else:
        for seed in range(seeds[0], seeds[0] + int(minutes) + 1):
            voice = voices[seed % len(voices)]
            yield f"{voice} {seed}", speak(voice, talk(seed), CACHE)


def alarms(
    only: str, way: str, minutes: float, decibel: float, seeds: Sequence[int], voices: Sequence[str]
) -> None:
    """Signals found where none was given, by the hour; every other stretch is in wind."""
    ear = ear_of(Settings(), REGISTER)
    seconds, false = 0.0, 0
    for number, (name, sound) in enumerate(talks(only, minutes, seeds, voices)):
        if seconds > minutes * 60:
            break
        noisy = mixed(sound, wind(len(sound) / RATE + 1), decibel) if number % 2 else sound
        hearing = live_words if way == "live" else whole_words
        found = find_signals(hearing(ear, noisy.astype(np.float32)), WORDING)
        seconds += len(sound) / RATE
        false += len(found)
        for signal in found:
            print(f"  {name}: {signal}")
        print(f"{only}, {way}: {false} in {seconds / 3600:.2f} hours", flush=True)


@dataclass(frozen=True, slots=True)
class Both:
    """As `listen --live` hears: short windows and long ones."""

    live: Live
    running: Running

    def hear(self, sound: Samples) -> None:
        """Take the next sound."""
        self.live.hear(sound)
        self.running.hear(sound)


def live(voice: str, decibel: float) -> None:
    """In real time: from the end of each word to its text, of each signal to its answer."""
    one = walk(voice, 1, decibel)
    lags: list[float] = []
    answers: list[float] = []
    began = 0.0

    def now() -> float:
        return time.monotonic() - began

    def told(words: Sequence[Word]) -> None:
        lags.extend(now() - word.end for word in words)

    def answered(signal: Signal, before: Transcript) -> None:
        end = min(one.ends, key=lambda e: abs(e - signal.end))
        answers.append(now() - end)
        print(f"  {signal.name:8} {answers[-1]:5.2f} s  {signal.said!r}")

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "walk.wav"
        write(path, one.sound, "pcm_s16le")
        ear = ear_of(Settings(), REGISTER)
        telling = Told(told, answered, lambda at: None, lambda at: print(f"behind at {at}"))
        short = Live(lambda: ear, WORDING, telling, RATE)
        running = Running("walk", busy=short.busy)
        kept = threading.Thread(
            target=hear_running, args=(running, REGISTER, Settings(), MemoryStore())
        )
        listener = Both(short, running)
        with session(Path(folder), RATE, datetime.now(UTC)) as writer:
            kept.start()
            began = time.monotonic()
            record(FileSource(path), writer, threading.Event(), listener=listener)
        listener.live.close()
        ended = time.monotonic()
        running.end()
        kept.join()
    print(f"heard for the drafts {time.monotonic() - ended:.1f} s after the end")
    print(f"signals answered: {len(answers)} of {len(one.names)}, {spread(answers)}")
    print(f"text lags the voice: {len(lags)} words, {spread(lags)}")


def spread(seconds: Sequence[float]) -> str:
    """Median and tail."""
    cuts = statistics.quantiles(seconds, n=20)
    return f"median {cuts[9]:.2f} s, 95 % within {cuts[18]:.2f} s, worst {max(seconds):.2f} s"


def long(hours: float) -> None:
    """Record for so long at the pace of the disk: memory, and where each second ends up."""
    every = 60 * RATE
    click = np.zeros(every, np.float32)
    click[: RATE // 100] = 0.9
    body = load(DEMO / "ridge-august.ogg")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.wav"
        minutes = int(hours * 60)
        write_minutes(path, body, click, minutes)
        process = psutil.Process()
        sizes = []

        def show(second: float, level: object, said: str) -> None:
            if int(second * 10) % 600 == 0:
                sizes.append(process.memory_info().rss / 1e6)

        began = time.monotonic()
        with session(Path(folder) / "s", RATE, datetime.now(UTC)) as writer:
            record(FileSource(path, speed=0), writer, threading.Event(), show)
        taken = time.monotonic() - began
        joined = join(writer.folder, Path(folder) / "out")
        worst = max(abs(at - 60.0 * n) for n, at in enumerate(clicks(joined.path)))
        size = joined.path.stat().st_size / 1e6
    early = statistics.median(sizes[5:15])
    print(f"{minutes} minutes in {taken:.0f} s; memory after 10 minutes {early:.0f} MB, ", end="")
    print(f"at the end {statistics.median(sizes[-10:]):.0f} MB, at most {max(sizes):.0f} MB")
    print(
        f"recording of {joined.seconds:.3f} s, {size:.0f} MB; worst time stamp off {worst * 1000:.1f} ms"
    )


def write_minutes(path: Path, body: np.ndarray, click: np.ndarray, minutes: int) -> None:
    """Talk with a click at the begin of every minute, one minute at a time."""
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        for number in range(minutes):
            start = number * len(click) % (len(body) - len(click))
            minute = 0.3 * body[start : start + len(click)] + click
            file.writeframes((np.clip(minute, -1, 1) * 32767).astype("<i2").tobytes())


def clicks(path: Path) -> Iterator[float]:
    """Seconds at which the sound is loud as nothing else is."""
    at, last = 0, -2 * RATE
    for block in decode(path):
        for place in np.flatnonzero(np.abs(block) > 0.7):
            if at + place - last > RATE:
                yield (at + place) / RATE
            last = at + place
        at += len(block)


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("what", choices=("heard", "alarms", "live", "long"))
    parser.add_argument("--seeds", type=int, nargs="+", default=[11, 12], help="walks, talk")
    parser.add_argument("--voices", nargs="+", default=EVERY_VOICE)
    parser.add_argument("--letters", action="store_true", help="signals by their letters alone")
    parser.add_argument("--decibel", type=float, default=10.0, help="speech over wind")
    parser.add_argument("--only", choices=("demo", "human", "talk", "near"), default="demo")
    parser.add_argument("--way", choices=("live", "whole"), default="live")
    parser.add_argument("--minutes", type=float, default=30.0, help="of talk without signals")
    parser.add_argument("--hours", type=float, default=2.0)
    parser.add_argument("--voice", default="slt")
    args = parser.parse_args()
    {
        "heard": lambda: heard(args.seeds, args.decibel, args.voices, sound=not args.letters),
        "alarms": lambda: alarms(
            args.only, args.way, args.minutes, args.decibel, args.seeds, args.voices
        ),
        "live": lambda: live(args.voice, args.decibel),
        "long": lambda: long(args.hours),
    }[args.what]()


if __name__ == "__main__":
    main()
