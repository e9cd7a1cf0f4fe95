"""Heard along: words and signals are told while the recording goes on, by the real engine."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import load, mixed, wind

from fieldvoice.errors import ModelError
from fieldvoice.hearing.decode import RATE
from fieldvoice.listening.live import Live, Told
from fieldvoice.listening.source import to_samples
from fieldvoice.listening.wording import load_wording
from fieldvoice.pipeline import ear_of
from fieldvoice.settings import Settings
from fieldvoice.types import Register, Signal, Transcript, Word


def spoken(folder: Path, *sentences: str) -> np.ndarray:
    parts = [np.zeros(RATE // 2, np.float32)]
    for sentence in sentences:
        subprocess.run(
            ["flite", "-voice", "rms", "-t", sentence, "-o", folder / "a.wav"], check=True
        )
        parts += [0.6 * load(folder / "a.wav"), np.zeros(int(1.2 * RATE), np.float32)]
    return np.concatenate(parts)


class Heard:
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self.signals: list[tuple[str, str, str]] = []
        self.calls = 0

    def told(self) -> Told:
        return Told(self._words, self._signal, self._not_understood, lambda second: None)

    def _words(self, words: Sequence[Word]) -> None:
        self.words += [word.word for word in words]

    def _signal(self, signal: Signal, before: Transcript) -> None:
        self.signals.append((signal.name, signal.rest.strip("., "), before.text))

    def _not_understood(self, second: float) -> None:
        self.calls += 1


@pytest.mark.model
def test_signals_and_words_at_ten_decibels_of_wind(tmp_path: Path) -> None:
    """At the rate of a sound card that knows no other; the command's test has 16 kHz."""
    rate = 48_000
    sound = spoken(
        tmp_path, "attention logbook, open hive seven.", "Four frames of brood.",
        "attention logbook, two boxes of cake.", "attention logbook, read that back.",
    )  # fmt: skip
    noisy = mixed(sound, wind(len(sound) / RATE + 1), 10.0)
    at = np.arange(0, len(noisy) - 1, RATE / rate)
    noisy = np.interp(at, np.arange(len(noisy)), noisy).astype(np.float32)
    heard = Heard()
    live = Live(
        lambda: ear_of(Settings(), Register(("5", "7"))), load_wording(), heard.told(), rate
    )
    samples = to_samples(noisy)
    for start in range(0, len(samples), rate // 10):
        live.hear(samples[start : start + rate // 10])
    live.close()
    assert [name for name, _, _ in heard.signals] == ["open", "read"]
    assert heard.signals[0][1].endswith("7")
    assert "brood" in heard.signals[1][2]
    assert heard.calls == 1  # the phrase, and then no signal


def test_what_goes_wrong_while_hearing_is_raised_at_the_end() -> None:
    def broken() -> None:
        raise ModelError("no weights")

    live = Live(broken, load_wording(), Heard().told(), RATE)  # type: ignore[arg-type]
    live.hear(np.zeros(1600, np.int16))
    with pytest.raises(ModelError):
        live.close()
    live.hear(np.zeros(1600, np.int16))  # the recording goes on, whatever became of the hearing
