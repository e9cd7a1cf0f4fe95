"""English text as the symbols that the voices speak, by espeak-ng."""

from __future__ import annotations

import random
import re
import subprocess
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

STOPS = ".,!?;:"


@cache
def voices() -> dict[str, Any]:
    """The content of voices.toml."""
    return tomllib.loads((Path(__file__).parent / "voices.toml").read_text(encoding="utf-8"))


def as_said(text: str, rng: random.Random) -> str:
    """The text with words respelled that are not said as they are spelled: "nuc" is "nuke"."""
    ways = voices()["said"]

    def respelled(match: re.Match[str]) -> str:
        new = str(rng.choice(ways[match[0].lower()]))
        return new.capitalize() if match[0][0].isupper() else new

    return re.sub(rf"\b({'|'.join(ways)})\b", respelled, text, flags=re.I)


def phonemes(text: str, *, british: bool) -> str:
    """Symbols of the words, with the stops between them, which espeak-ng would leave out."""
    pieces = [p for p in re.split(rf"([{STOPS}]+\s*|\s--\s)", text) if p.strip()]
    words = [p.strip() for p in pieces if re.search("[A-Za-z]", p)]
    spoken = _espeak(words, "en-gb" if british else "en-us")
    out = ""
    for piece in pieces:
        if re.search("[A-Za-z]", piece):
            out += _symbols(spoken.pop(0), british=british)
        else:
            sign = piece.strip()[0]
            out += f"{sign if sign in STOPS else ','} "
    return out.strip()


def _espeak(parts: list[str], accent: str) -> list[str]:
    """What espeak-ng says for each part: all in one call where each gives one line."""
    command = ["espeak-ng", "-q", "--ipa", "--tie=^", "-v", accent]
    text = "\n\n".join(parts) + "\n"
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=True)
    lines = [line.strip() for line in done.stdout.splitlines() if line.strip()]
    if len(lines) == len(parts):
        return lines
    if len(parts) == 1:
        return [" ".join(lines)]
    return [line for part in parts for line in _espeak([part], accent)]


def _symbols(ipa: str, *, british: bool) -> str:
    tables = voices()["symbols"]
    for old, new in tables["both"]:
        ipa = ipa.replace(old, new)
    ipa = re.sub("(\\S)\u0329", r"ᵊ\1", ipa)  # a consonant that is a syllable
    ipa = ipa.replace("\u0361", "").replace("^", "")
    for old, new in tables["british" if british else "american"]:
        ipa = ipa.replace(old, new)
    return ipa
