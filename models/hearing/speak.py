"""Utterances -> sound: each spoken by one of the voices of an ONNX model.

    python models/hearing/speak.py UTTERANCES.jsonl VOICES OUT --workers 4

UTTERANCES.jsonl is written by texts.py. VOICES is a folder of a text-to-speech model that
takes symbols, a style by the number of symbols, and a speed (Kokoro-82M has this form):

    model.onnx         inputs: symbols (the first), style, speed; output: sound at 24 kHz
    vocab.json         {"vocab": {symbol: number}}
    voices/NAME.npy    styles, one row for each number of symbols

It needs espeak-ng. Which voice says what follows from the seed; those that voices.toml
holds back say nothing. OUT gets speech-N.npy, the sounds of one worker at 16 kHz, one behind
the other, and speech-N.json, what each of them is.
"""

from __future__ import annotations

import argparse
import json
import random
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from phonemes import as_said, phonemes, voices

from fieldvoice.hearing.decode import RATE

SPOKEN_RATE = 24_000
MOST_SYMBOLS = 238  # the styles end there, and long utterances lose words
LONGEST = 25 * RATE  # samples; an utterance and its prompt must fit into a window
MARGIN = 600  # samples kept around the voice, at 24 kHz
Sound = NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Line:
    """What one stretch of the sound is."""

    kind: str
    voice: str
    written: str
    samples: int


class Voices:
    """The model and the styles of its voices, on one core."""

    def __init__(self, folder: Path) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self._model = onnxruntime.InferenceSession(str(folder / "model.onnx"), options)
        self._symbols = self._model.get_inputs()[0].name
        self._numbers = json.loads((folder / "vocab.json").read_text(encoding="utf-8"))["vocab"]
        self._styles = folder / "voices"

    def speak(self, symbols: str, voice: str, speed: float) -> Sound | None:
        """The sound at 16 kHz, without the silence around it; None: too short or too long."""
        from scipy.signal import resample_poly

        numbers = [self._numbers[s] for s in symbols if s in self._numbers]
        if not 3 <= len(numbers) <= MOST_SYMBOLS:
            return None
        style = np.load(self._styles / f"{voice}.npy", mmap_mode="r")[len(numbers)]
        inputs: dict[str, Any] = {
            self._symbols: np.array([[0, *numbers, 0]], np.int64),
            "style": style[None].astype(np.float32),
            "speed": np.array([speed], np.float32),
        }
        sound = self._model.run(None, inputs)[0].ravel()
        loud = np.flatnonzero(np.abs(sound) > 0.01 * np.abs(sound).max())
        sound = sound[max(0, loud[0] - MARGIN) : loud[-1] + MARGIN]
        sound = resample_poly(sound, RATE // 8000, SPOKEN_RATE // 8000)
        return (sound * (0.5 * 32767 / np.abs(sound).max())).astype(np.int16)


def names(folder: Path) -> tuple[list[str], list[str]]:
    """The voices that may teach: those of English, and the others."""
    rules = voices()
    found = sorted(p.stem for p in (folder / "voices").glob("*.npy"))
    free = [name for name in found if name not in rules["held_back"]]
    english = [name for name in free if name[0] in rules["english"]]
    if not english:
        raise SystemExit(f"{folder}: no voices of English. It should hold voices/NAME.npy.")
    return english, [name for name in free if name not in english]


def speak_part(
    part: int, utterances: Sequence[dict[str, str]], folder: Path, out: Path, seed: int
) -> list[str]:
    """Speak one worker's share; the kinds that were spoken."""
    model, rules = Voices(folder), voices()
    english, others = names(folder)
    rng = random.Random(f"{seed} {part}")
    sounds: list[Sound] = []
    lines: list[Line] = []
    for one in utterances:
        ours = rng.random() < rules["english_share"] or not others
        voice = rng.choice(english if ours else others)
        british = voice[0] in rules["british"]
        symbols = phonemes(as_said(one["spoken"], rng), british=british)
        sound = model.speak(symbols, voice, rng.uniform(*rules["speed"]))
        if sound is not None and len(sound) <= LONGEST:
            sounds.append(sound)
            lines.append(Line(one["kind"], voice, one["written"], len(sound)))
    np.save(out / f"speech-{part}.npy", np.concatenate(sounds) if sounds else np.zeros(0, np.int16))
    text = json.dumps([asdict(line) for line in lines], ensure_ascii=False, indent=0)
    (out / f"speech-{part}.json").write_text(text, encoding="utf-8")
    return [line.kind for line in lines]


def main() -> None:
    """Speak all utterances, or the first so many."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("utterances", type=Path)
    parser.add_argument("voices", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--first", type=int, help="only so many of them")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--seed", type=int, default=3)
    options = parser.parse_args()
    lines = options.utterances.read_text(encoding="utf-8").splitlines()[: options.first]
    utterances = [json.loads(line) for line in lines]
    names(options.voices)  # a folder without voices is told of before any work
    options.out.mkdir(parents=True, exist_ok=True)
    work = partial(speak_part, folder=options.voices, out=options.out, seed=options.seed)
    shares = [utterances[n :: options.workers] for n in range(options.workers)]
    with ProcessPoolExecutor(options.workers) as pool:
        kinds = [kind for part in pool.map(work, range(options.workers), shares) for kind in part]
    print(f"{len(kinds)} of {len(utterances)} spoken")
    print({kind: kinds.count(kind) for kind in dict.fromkeys(kinds)})


if __name__ == "__main__":
    main()
