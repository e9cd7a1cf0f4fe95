"""The field under a voice: wind, hiss, hum, bellows; and what rooms and microphones do to it.

These are not the wind and hum of demo/make_recordings.py, on which hearing is measured.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from fieldvoice.hearing.decode import RATE

SECONDS = 60
SIZE = SECONDS * RATE
Curve = NDArray[np.float64]
Rng = np.random.Generator


def bank(count: int, seed: int, device: str) -> Tensor:
    """So many minutes of noise at a root mean square of 1, kind after kind."""
    rng = np.random.default_rng(seed)
    kinds: tuple[Callable[[Rng], Curve], ...] = (gusts, gusts, hiss, hum, bursts)
    made = [kinds[n % len(kinds)](rng) for n in range(count)]
    level = [noise / np.sqrt(np.mean(noise**2)) for noise in made]
    return torch.from_numpy(np.stack(level).astype(np.float32)).to(device)


def coloured(power: float, low: float, rng: Rng) -> Curve:
    """Noise whose loudness falls with frequency to the `power`, from `low` hertz up."""
    spectrum = np.fft.rfft(rng.standard_normal(SIZE))
    frequency = np.fft.rfftfreq(SIZE, 1 / RATE)
    return np.fft.irfft(spectrum / np.maximum(frequency, low) ** power, SIZE)


def swell(every: int, rng: Rng) -> Curve:
    """A slow curve between 0 and 1 through points that lie so many samples apart."""
    points = rng.random(SIZE // every + 2)
    return np.interp(np.arange(SIZE), np.arange(len(points)) * every, points)


def gusts(rng: Rng) -> Curve:
    """Wind that comes and goes."""
    wind = coloured(rng.uniform(0.7, 1.3), rng.uniform(15, 80), rng)
    return wind * (0.05 + swell(int(rng.uniform(3000, 24_000)), rng) ** rng.uniform(1, 3))


def hiss(rng: Rng) -> Curve:
    """Leaves, rain, a road far away."""
    return coloured(rng.uniform(0, 0.6), 20, rng) * (0.3 + swell(RATE, rng))


def hum(rng: Rng) -> Curve:
    """Bees: a tone with overtones that drifts, in some hiss."""
    wander = rng.uniform(4, 15) * (swell(800, rng) - 0.5) * 2
    phase = 2 * np.pi * np.cumsum(rng.uniform(180, 280) + wander) / RATE
    tone = np.sum([np.sin(k * phase) * rng.uniform(0.3, 1) / k for k in range(1, 8)], axis=0)
    around = coloured(0.5, 20, rng)
    around *= rng.uniform(0, 1) * np.std(tone) / np.std(around)
    return np.asarray(tone * (0.4 + swell(8000, rng)) + around)


def bursts(rng: Rng) -> Curve:
    """A smoker's bellows, gloves, lids: short swells."""
    loud = np.full(SIZE, 0.02)
    for _ in range(int(rng.integers(20, 90))):
        at, length = int(rng.integers(0, SIZE - 9000)), int(rng.integers(200, 9000))
        loud[at : at + length] += np.hanning(length) * rng.uniform(0.2, 1)
    return coloured(rng.uniform(0.2, 0.8), 20, rng) * loud


# --- what becomes of a window of sound -----------------------------------------


def worsened(sound: Tensor, noises: Tensor, rng: random.Random) -> Tensor:
    """The window as a microphone in a yard may have it: rooms, dullness, noise."""
    if rng.random() < 0.3:
        sound = in_a_room(sound, rng)
    if rng.random() < 0.25:
        sound = dull(sound, rng.uniform(2800, 7000))
    return sound + under(sound, noises, rng)


def in_a_room(sound: Tensor, rng: random.Random) -> Tensor:
    """With the echo of a shed, 0.05 to 0.35 seconds long."""
    length = int(rng.uniform(0.05, 0.35) * RATE)
    decay = torch.exp(-6.9 * torch.arange(length, device=sound.device) / length)
    echo = torch.randn(length, device=sound.device) * decay
    echo = echo * rng.uniform(0.1, 0.5) / echo.norm()
    echo[0] = 1
    size = 2 ** (len(sound) + length - 1).bit_length()
    both = torch.fft.rfft(sound, size) * torch.fft.rfft(echo, size)
    return torch.fft.irfft(both, size)[: len(sound)]


def dull(sound: Tensor, above: float) -> Tensor:
    """Without what lies above so many hertz."""
    frequency = torch.fft.rfftfreq(len(sound), 1 / RATE).to(sound.device)
    kept = torch.fft.rfft(sound) / (1 + (frequency / above) ** 8).sqrt()
    return torch.fft.irfft(kept, len(sound))


def under(sound: Tensor, noises: Tensor, rng: random.Random) -> Tensor:
    """One or two noises, 4 decibels louder than the voice to 24 softer."""
    voice = sound[sound.abs() > 1e-4]
    power = float((voice**2).mean()) if len(voice) else 1e-4
    total = torch.zeros_like(sound)
    for number in rng.sample(range(len(noises)), rng.choice((1, 1, 2))):
        at = rng.randint(0, noises.shape[1] - len(sound))
        total = total + noises[number, at : at + len(sound)] * rng.uniform(0.3, 1)
    decibels = rng.uniform(-4, 24)
    return total * (power / 10 ** (decibels / 10)) ** 0.5 / (total**2).mean().sqrt()
