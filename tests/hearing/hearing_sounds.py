"""Sound for the tests: human clips with their transcripts, wind and hum, file formats.

Human speech comes from two Debian packages, which ship what was said beside the sound:
`pocketsphinx-testdata` (five sentences of a LibriVox reading, playing cards) and
`asterisk-core-sounds-en-g722` with `asterisk-core-sounds-en` (telephone prompts).
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import jiwer
import numpy as np
from whisper.normalizers import EnglishTextNormalizer

from fieldvoice.hearing.decode import RATE, decode

SPHINX = Path("/usr/share/pocketsphinx/test/data")
ASTERISK = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
ASTERISK_TEXT = Path("/usr/share/doc/asterisk-core-sounds-en/core-sounds-en.txt.gz")


def load(path: Path) -> np.ndarray:
    return np.concatenate(list(decode(path)))


def sphinx_clips(folder: str, listing: str) -> list[tuple[Path, str]]:
    """Clips of pocketsphinx-testdata with their transcripts."""
    lines = (SPHINX / folder / listing).read_text().splitlines()
    found = [re.fullmatch(r"<s> (.*?) </s> \((.*)\)", line.strip()) for line in lines]
    return [(SPHINX / folder / f"{m[2]}.wav", m[1].strip()) for m in found if m]


def librivox() -> list[tuple[Path, str]]:
    return sphinx_clips("librivox", "transcription")


def cards() -> list[tuple[Path, str]]:
    return sphinx_clips("cards", "cards.transcription")


def prompts(count: int) -> list[tuple[Path, str]]:
    """The first `count` telephone prompts, by name, that are sentences and nothing else."""
    out = []
    for line in gzip.decompress(ASTERISK_TEXT.read_bytes()).decode().splitlines():
        name, _, text = line.strip().partition(": ")
        clip = ASTERISK / f"{name}.g722"
        if len(text) > 60 and not re.search(r"[\[(*#]|\.\.\.", text) and clip.is_file():
            out.append((clip, text))
    return out[:count]


def word_errors(said: list[str], heard: list[str]) -> float:
    """Word error rate, both sides through Whisper's English normaliser (jiwer)."""
    normal = EnglishTextNormalizer()
    return jiwer.wer([normal(t) for t in said], [normal(t) for t in heard])


def joined(clips: list[np.ndarray], gap: float) -> tuple[np.ndarray, list[tuple[float, float]]]:
    """Clips one after another with `gap` seconds between; and where each stands."""
    quiet = np.zeros(int(gap * RATE), np.float32)
    parts, places, at = [quiet], [], len(quiet)
    for clip in clips:
        places.append((at / RATE, (at + len(clip)) / RATE))
        parts += [clip, quiet]
        at += len(clip) + len(quiet)
    return np.concatenate(parts), places


def wander(draw: Callable[[int], np.ndarray], samples: int, every: int) -> np.ndarray:
    """A random line with a new value each `every` samples."""
    values = draw(samples // every + 2)
    return np.interp(np.arange(samples), np.arange(len(values)) * every, values)


def wind(seconds: float, seed: int = 1) -> np.ndarray:
    """Gusts: noise falling with frequency, its strength wandering over seconds."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    spectrum = np.fft.rfft(rng.standard_normal(n))
    spectrum /= np.maximum(np.fft.rfftfreq(n, 1 / RATE), 20.0)
    noise = np.fft.irfft(spectrum, n)
    slow = wander(rng.random, n, RATE)
    noise *= 0.1 + slow
    return (0.3 * noise / np.abs(noise).max()).astype(np.float32)


def hum(seconds: float, seed: int = 2) -> np.ndarray:
    """Bees: 250 Hz and its harmonics, wavering."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    steps = wander(rng.standard_normal, n, 800)
    phase = 2 * np.pi * np.cumsum(250 + 8 * steps) / RATE
    return (0.05 * sum(np.sin(k * phase) / k for k in (1, 2, 3, 4))).astype(np.float32)


def mixed(speech: np.ndarray, noise: np.ndarray, decibel: float) -> np.ndarray:
    """Speech over noise at a broadband signal-to-noise ratio."""
    noise = noise[: len(speech)]
    gain = np.sqrt((speech**2).mean() / (noise**2).mean() / 10 ** (decibel / 10))
    out = speech + gain * noise
    return (out / max(1.0, float(np.abs(out).max()))).astype(np.float32)


def write(
    path: Path,
    sound: np.ndarray,
    codec: str,
    *,
    rate: int = RATE,
    layout: str = "mono",
    metadata: dict[str, str] | None = None,
) -> Path:
    """Encode `sound` (16 kHz mono) as `path`'s container says."""
    with av.open(str(path), "w") as out:
        out.metadata.update(metadata or {})
        stream = out.add_stream(codec, rate=rate, layout=layout)
        if codec == "vorbis":  # FFmpeg's own encoder for it is called experimental
            stream.codec_context.options = {"strict": "experimental"}
        to = av.AudioResampler(
            format=stream.format.name, layout=layout, rate=rate, frame_size=stream.frame_size or 0
        )
        frame = av.AudioFrame.from_ndarray(sound[np.newaxis], format="flt", layout="mono")
        frame.rate, frame.pts, frame.time_base = RATE, 0, Fraction(1, RATE)
        for piece in [*to.resample(frame), *to.resample(None)]:
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    return path
