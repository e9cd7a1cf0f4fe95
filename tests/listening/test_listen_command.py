"""The command as a keeper has it: killed and recovered, stopped, told what to do aloud."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from hearing_sounds import load, write
from makers import COMMAND, query

from fieldvoice.hearing.decode import RATE

DEMO = Path(__file__).parent.parent.parent / "demo" / "orchard-may.ogg"


def call(path: Path, *words: str | Path) -> str:
    done = subprocess.run(
        [COMMAND, "--logbook", path, *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@contextmanager
def listening(path: Path, *words: str | Path) -> Iterator[subprocess.Popen[str]]:
    """`fieldvoice listen`, given when it records."""
    with subprocess.Popen(
        [COMMAND, "--logbook", path, "listen", *words],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        env=os.environ | {"PYTHONUNBUFFERED": "1"},
    ) as process:  # fmt: skip
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


def wait_for(process: subprocess.Popen[str], text: str) -> str:
    """What it printed up to a line with `text`."""
    assert process.stdout is not None
    said = ""
    for line in process.stdout:
        said += line
        if text in line:
            return said
    raise AssertionError(f"{text!r} never came: {said}")


@pytest.mark.model
def test_killed_then_recovered_then_stopped(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    with listening(path, "--no-signals", "--play", DEMO) as process:
        wait_for(process, "Recording")
        began = time.monotonic()
        time.sleep(4.0)
        process.kill()
        lasted = time.monotonic() - began
    (session,) = (tmp_path / "listening").iterdir()
    assert not path.exists() or query(path, "SELECT * FROM recordings") == []

    with listening(path, "--no-signals", "--play", DEMO) as process:
        said = wait_for(process, "Recording")
        assert "recovered" in said
        assert "cut off" in said
        assert not session.exists()  # it is safe now
        time.sleep(1.5)
        process.send_signal(signal.SIGINT)
        assert process.stdout is not None
        rest = process.stdout.read()
        assert process.wait(60) == 0, rest
    assert list((tmp_path / "listening").iterdir()) == []
    durations = [d for (d,) in query(path, "SELECT duration_s FROM recordings ORDER BY id")]
    assert lasted - 2.0 <= durations[0] <= lasted + 0.5
    assert 1.0 <= durations[1] <= 8.0
    kept = sorted((tmp_path / "recordings").iterdir())
    assert [load(p).shape[0] / RATE for p in kept] == pytest.approx(durations)


@pytest.mark.model
def test_signals_while_it_records(tmp_path: Path) -> None:
    said = [
        ("attention logbook, open hive seven.", 0.8),
        ("Four frames of brood.", 0.7),
        ("Gave her two quarts of one to one.", 0.7),
        ("attention logbook, scratch that.", 1.2),
        ("attention logbook, stop listening.", 30.0),
    ]
    parts = [np.zeros(RATE, np.float32)]
    for text, pause in said:
        wav = tmp_path / "part.wav"
        subprocess.run(["flite", "-voice", "rms", "-t", text, "-o", wav], check=True)
        parts += [0.7 * load(wav), np.zeros(int(pause * RATE), np.float32)]
    talk = write(tmp_path / "talk.wav", np.concatenate(parts), "pcm_s16le")
    path = tmp_path / "log" / "log.db"
    path.parent.mkdir()
    call(path, "hives", "add", "--yard", "home", "5", "7")
    with listening(path, "--tones", "--play", talk) as process:
        assert process.stdout is not None
        out = process.stdout.read()
        assert process.wait(100) == 0, out
    for answer in ("> hive 7", "> scratched", "> stopped"):
        assert answer in out
    (duration,) = query(path, "SELECT duration_s FROM recordings")[0]
    assert duration < len(np.concatenate(parts)) / RATE - 15  # it stopped when it was told
    rows = query(path, "SELECT hive, item, state, flags FROM drafts ORDER BY start_s")
    assert ("7", "brood", "waiting") in [row[:3] for row in rows]
    ((_, item, state, flags),) = [row for row in rows if "scratched" in row[3]]
    assert (item, state) == ("syrup", "rejected")
    assert '"scratched"' in flags
    # what was said to the recorder is in the transcript, and no row is made of it
    quotes = " ".join(q for (q,) in query(path, "SELECT quote FROM drafts"))
    assert "logbook" not in quotes.lower()
    assert "logbook" in query(path, "SELECT transcript FROM recordings")[0][0].lower()


@pytest.mark.model
def test_a_watched_folder(tmp_path: Path) -> None:
    """Two chapters are one recording, a restart takes nothing twice, nothing is touched."""
    path, folder = tmp_path / "log.db", tmp_path / "in"
    folder.mkdir()
    sound = load(DEMO)
    for number, begins in ((1, 0), (2, 8)):
        cut = sound[begins * RATE : (begins + 8) * RATE]
        when = f"2026-05-09T10:20:{begins:02}+02:00"
        write(folder / f"take_{number}.flac", cut, "flac", metadata={"creation_time": when})
    (folder / "list.txt").write_text("no sound")
    (folder / "broken.mp3").write_bytes(b"no sound either" * 99)
    before = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()}

    out = call(path, "watch", folder, "--once", "--settle", "0.2")
    assert "One take in 2 chapters: take_1.flac, take_2.flac." in out
    assert query(path, "SELECT round(duration_s, 3) FROM recordings") == [(16.0,)]
    drafts = query(path, "SELECT count(*) FROM drafts")
    assert query(path, "SELECT count(*), count(recording) FROM inbox") == [(3, 2)]

    (folder / "renamed.flac").write_bytes((folder / "take_1.flac").read_bytes())
    assert call(path, "watch", folder, "--once", "--settle", "0.2") == ""
    assert query(path, "SELECT count(*) FROM recordings") == [(1,)]
    assert query(path, "SELECT count(*) FROM drafts") == drafts
    (folder / "renamed.flac").unlink()
    assert {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()} == before


def test_the_folder_must_be_there(tmp_path: Path) -> None:
    done = subprocess.run(
        [COMMAND, "--logbook", tmp_path / "log.db", "watch", tmp_path / "none"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "no such folder" in done.stderr
    assert not (tmp_path / "log.db").exists()


def test_a_watch_in_the_background_ends_when_it_is_told_to(tmp_path: Path) -> None:
    """A shell starts what runs in the background with Ctrl-C ignored."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        process = subprocess.Popen(
            [COMMAND, "--logbook", tmp_path / "log.db", "watch", tmp_path],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
    finally:
        signal.signal(signal.SIGINT, before)
    with process:
        try:
            wait_for(process, "Watching")
            process.terminate()
            assert process.wait(20) in (0, 130)
        finally:
            process.kill()
