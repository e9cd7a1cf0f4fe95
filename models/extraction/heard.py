"""Labelled narrations -> the same narrations as a recogniser writes them, labels carried over.

    pip install '.[demo,test]'; apt install flite espeak-ng
    python models/extraction/heard.py FOLDER NARRATION.json... --prefix yard-

Training text must hold the recogniser's own mistakes. Each narration is spoken by a
simple synthetic voice (never the one of the demo and the benchmarks), mixed with the
demo's wind at 5 to 20 dB, heard by `fieldvoice` itself with the narration's register, and
aligned with what was said, word by word. FOLDER/transcripts keeps what was heard, so a
second run only carries labels; FOLDER/json gets the narrations, ids PREFIX + id.

Dropped: narrations heard with a third of their words wrong or more; rows whose words or
whose thing were lost; numbers that were lost or came out as other numbers.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import zlib
from collections import Counter
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "hearing"))

from carrying import carry
from hearing_sounds import write
from make_recordings import Take, mix

from fieldvoice.hearing.decode import RATE, decode
from fieldvoice.hearing.engines.load import load_engine
from fieldvoice.hearing.transcribe import hear
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.trade.load import trade_file
from fieldvoice.wire import transcript_to_json

Row = dict[str, Any]

FLITE = ("slt", "rms", "awb", "kal16")
ESPEAK = ("en-us", "en-gb", "en-gb-x-rp", "en-gb-scotland", "en-us-nyc")
VOICES = (*("slt",) * 2, *("rms",) * 2, *("awb",) * 2, "kal16", *ESPEAK)  # the clearer ones twice


def speak(text: str, voice: str, rng: np.random.Generator, folder: Path) -> np.ndarray:
    """The narration at 16 kHz, sentence by sentence; "nuc" is said as keepers say it."""
    said = re.sub(r"\b([Nn])uc(s?)\b", r"\1uke\2", text)
    parts = [np.zeros(RATE, np.float32)]
    path = folder / "sentence.wav"
    for sentence in re.split(r"(?<=[.!?])\s+(?=.*\w)", said):
        if voice in FLITE:
            stretch = f"duration_stretch={rng.uniform(0.9, 1.15):.2f}"
            command = ["flite", "-voice", voice, "--setf", stretch, "-t", sentence, "-o", str(path)]
        else:
            speed = str(rng.integers(140, 176))
            command = ["espeak-ng", "-v", voice, "-s", speed, "-w", str(path), "--", sentence]
        subprocess.run(command, check=True, capture_output=True)
        parts += [*decode(path), np.zeros(int(rng.uniform(0.3, 1.3) * RATE), np.float32)]
    sound = np.concatenate(parts)
    return sound * np.float32(0.5 / np.abs(sound).max())


def listen(narration: Row, name: str) -> Row:
    """The transcript of the narration, spoken in wind; voice and wind follow from the name."""
    rng = np.random.default_rng(zlib.crc32(name.encode()))
    voice, wind = str(rng.choice(VOICES)), float(rng.uniform(5, 20))
    with TemporaryDirectory() as temporary:
        folder = Path(temporary)
        sound = speak(narration["text"], voice, rng, folder)
        path = folder / "noisy.wav"
        write(path, mix(sound, RATE, Take(name, "", wind=wind, hum=26), rng), "pcm_s16le")
        words = vocabulary_from(trade_file("speech"), narration["register"])
        return transcript_to_json(hear(path, engine=_engine(), vocabulary=words))


@cache
def _engine() -> Any:
    return load_engine("ctranslate2", "tiny.en")


def main() -> None:
    """Speak, hear and carry over the narrations named on the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("narrations", nargs="+", type=Path)
    parser.add_argument("--prefix", default="heard-")
    options = parser.parse_args()
    transcripts, labelled = options.folder / "transcripts", options.folder / "json"
    transcripts.mkdir(parents=True, exist_ok=True)
    labelled.mkdir(exist_ok=True)
    dropped: Counter[str] = Counter()
    for path in options.narrations:
        narration = json.loads(path.read_text(encoding="utf-8"))
        name = options.prefix + narration["id"]
        kept = transcripts / f"{name}.json"
        if not kept.is_file():
            kept.write_text(json.dumps(listen(narration, name)), encoding="utf-8")
        heard = json.loads(kept.read_text(encoding="utf-8"))["text"]
        if new := carry(narration, name, heard, dropped):
            text = json.dumps(new, indent=1, ensure_ascii=False)
            (labelled / f"{name}.json").write_text(text, encoding="utf-8")
    print(dict(dropped))


if __name__ == "__main__":
    main()
