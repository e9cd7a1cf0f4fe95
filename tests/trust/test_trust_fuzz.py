"""Bad input is taken or refused in one sentence: no traceback, no hang, no flood of memory.

`python -m tests.trust.fuzz --count 10000` is the long run.
"""

from __future__ import annotations

import struct
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fieldvoice.errors import FieldvoiceError, InputError, RecordingError
from fieldvoice.hearing.cutting import samples
from fieldvoice.hearing.decode import LONGEST, MOST_SILENCE, RATE, Decoding, decode
from tests.trust.bombs import YEAR, flac, late_ogg, wav, wav_with_notes
from tests.trust.fuzz import fuzz, plan
from tests.trust.inputs import KINDS
from tests.trust.sounds import talk


def test_five_hundred_bad_inputs() -> None:
    found = fuzz(500, seed=8)
    assert [given for given in found if given.bad] == []
    ends = [given.outcome.partition(":")[0] for given in found]
    assert ends.count("refused") > 100  # they are bad indeed
    assert ends.count("taken") > 100  # and some are good enough to go deep
    assert set(plan(100, None)) == set(KINDS)


def test_a_fault_would_be_seen(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The harness tells a fault from a refusal."""
    from tests.trust import inputs

    def raising(error: Exception) -> Callable[..., None]:
        def give(*_: Any) -> None:
            raise error

        return give

    monkeypatch.setitem(inputs.KINDS, "sound", (1, raising(InputError("It is bad."))))
    assert inputs.give(None, "sound", "1") == "refused: It is bad."  # type: ignore[arg-type]
    for error in (KeyError("x"), MemoryError(), InputError(" "), InputError("Traceback (most")):
        monkeypatch.setitem(inputs.KINDS, "sound", (1, raising(error)))
        with pytest.raises((KeyError, MemoryError, inputs.Fault)):
            inputs.give(None, "sound", "1")  # type: ignore[arg-type]


MEASURED = """
import sys, time
from pathlib import Path
from fieldvoice.errors import RecordingError
from fieldvoice.hearing.decode import decode
slowest, last, seconds = 0.0, time.monotonic(), 0.0
try:
    for block in decode(Path(sys.argv[1])):
        seconds += len(block) / 16000
        slowest, last = max(slowest, time.monotonic() - last), time.monotonic()
        if seconds > float(sys.argv[2]):
            break
    end = "taken"
except RecordingError as error:
    end = f"refused {error}"
peak = int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1024
print(f"{seconds:.1f} {slowest:.2f} {peak:.0f} {end}")
"""


def decoded(path: Path, seconds: float = 3600.0) -> tuple[float, str]:
    """Decode in a process of its own, up to so many seconds; how many came, and how it ended."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, str(path), str(seconds)],
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    came, slowest, peak, end = done.stdout.strip().split(" ", 3)
    assert float(slowest) < 10.0
    assert float(peak) < 500  # MB
    return float(came), end


def test_a_header_that_claims_a_year(tmp_path: Path) -> None:
    assert decoded(wav(tmp_path / "a.wav", 1, claimed=2**32 - 1)) == (1.0, "taken")
    came, end = decoded(flac(tmp_path / "a.flac", 3, claimed=2**36 - 1))
    assert (round(came), end) == (12, "taken")
    came, end = decoded(late_ogg(talk(tmp_path / "a.ogg", 60.0), YEAR))
    assert (round(came), end) == (60, "taken")


LOOKED_INTO = """
import sys
from pathlib import Path
from fieldvoice.errors import RecordingError
from fieldvoice.hearing.cutting import samples
from fieldvoice.hearing.decode import decode, length_of
from fieldvoice.hearing.moment import recorded_at
from fieldvoice.listening.flac import notes_of
from fieldvoice.listening.inbox import probe
ways = {"length_of": length_of, "moment": recorded_at, "notes": notes_of, "probe": probe,
        "decode": lambda path: list(decode(path)), "cut": lambda path: list(samples(path, 0, 1))}
try:
    ways[sys.argv[1]](Path(sys.argv[2]))
except RecordingError:
    pass
print(int(Path("/proc/self/status").read_text().partition("VmHWM:")[2].split()[0]) / 1024)
"""


@pytest.mark.parametrize("way", ["length_of", "moment", "notes", "probe", "decode", "cut"])
def test_a_note_that_claims_gigabytes(tmp_path: Path, way: str) -> None:
    """FFmpeg makes room for what is claimed before it sees that the file ends."""
    bomb = wav_with_notes(tmp_path / "a.wav", 2_000_000_000)
    done = subprocess.run(
        [sys.executable, "-c", LOOKED_INTO, way, str(bomb)],
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert float(done.stdout) < 500  # MB


def test_lost_frames_are_still_replaced_by_silence(tmp_path: Path) -> None:
    late = late_ogg(talk(tmp_path / "a.ogg", 60.0), 100)
    came, _ = decoded(late)
    assert came == pytest.approx(160.0, abs=0.5)
    assert MOST_SILENCE >= 600


def test_a_small_file_that_unpacks_to_hours(tmp_path: Path) -> None:
    bomb = flac(tmp_path / "a.flac", 5000)
    assert bomb.stat().st_size < 80_000
    came, end = decoded(bomb, 5 * 3600)
    assert came > 5 * 3600
    assert end == "taken"


def test_one_sample_a_second(tmp_path: Path) -> None:
    """A frame of 65,535 of them would be 18 hours: 4 GB at once."""
    came, end = decoded(flac(tmp_path / "a.flac", 3, rate=1))
    assert came == 0.0
    assert "there is no sound in it" in end


@pytest.mark.parametrize("rate", [800_000, 2_000_000_000, 2**32 - 1])
def test_billions_of_samples_a_second(tmp_path: Path, rate: int) -> None:
    """A filter that brings them down to sixteen thousand would take minutes to make."""
    path = wav(tmp_path / "a.wav", 1)
    raw = bytearray(path.read_bytes())
    struct.pack_into("<I", raw, 24, rate)
    path.write_bytes(raw)
    came, end = decoded(path)
    assert came == 0.0
    assert end.startswith("refused")
    started = time.monotonic()
    with pytest.raises(RecordingError, match="cannot be played"):
        list(samples(path, 0.0, 1.0))
    assert time.monotonic() - started < 10


def test_ten_hours_are_decoded_in_pieces(tmp_path: Path) -> None:
    """Twenty minutes of the ten hours here; all of it is `tests.trust.fuzz --silence`."""
    came, end = decoded(wav(tmp_path / "a.wav", 36_000), 1200)
    assert came >= 1200
    assert end == "taken"


def test_more_than_a_day_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert LONGEST == 24 * 3600
    monkeypatch.setattr("fieldvoice.hearing.decode.LONGEST", 30.0)
    state = Decoding()
    with pytest.raises(RecordingError, match="longer than"):
        for _ in decode(flac(tmp_path / "a.flac", 20), state):
            pass
    assert state.duration < 30.0 + 65_535 / RATE + 1


def test_what_nobody_said_is_refused_at_once(tmp_path: Path) -> None:
    from fieldvoice.wire import read_text_or_transcript

    notes = tmp_path / "notes.txt"
    for text, why in (("[" * 200_000, "no speech"), ("word " * 300_000, "more than a day's talk")):
        notes.write_text(text, encoding="utf-8")
        started = time.monotonic()
        with pytest.raises(InputError, match=why):
            read_text_or_transcript(notes)
        assert time.monotonic() - started < 1.0


def test_a_message_fits_on_a_screen_whatever_was_typed() -> None:
    told = str(InputError(f"'{'a' * 10_000}' is no day; write it as 2026-05-03."))
    assert len(told) < 1000
    assert told.endswith("write it as 2026-05-03.")
    assert str(FieldvoiceError("one\ntwo\x1b[2J\u202e.")) == "one two\ufffd[2J\ufffd."
