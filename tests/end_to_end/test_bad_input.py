"""Bad recordings and bad logbooks: one clear sentence and exit code 2, or success; nothing lost."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import wave
from pathlib import Path

import numpy as np
import pytest
from keeper import Call, demo_sound
from makers import COMMAND, write_sound

# Root may read anything; without these two powers it may read only what the file's mode allows.
BOUND = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if os.geteuid() == 0 else []


@pytest.fixture(scope="module")
def speech() -> np.ndarray:
    """Some seconds of the demo: hive five is light and gets a gallon and a half."""
    return demo_sound("orchard-october", 28, 46)


def empty(folder: Path) -> Path:
    path = folder / "empty.wav"
    path.touch()
    return path


def renamed_text(folder: Path) -> Path:
    path = folder / "notes.wav"
    path.write_text("Hive seven, six frames of bees.\n" * 50, encoding="utf-8")
    return path


def no_length(folder: Path) -> Path:
    path = folder / "nothing.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
    return path


def folder_without_sound(folder: Path) -> Path:
    path = folder / "papers"
    path.mkdir()
    (path / "list.txt").write_text("sugar", encoding="utf-8")
    return path


def not_there(folder: Path) -> Path:
    return folder / "gone.wav"


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (empty, "empty"),
        (renamed_text, "no sound recording"),
        (no_length, "no sound"),
        (folder_without_sound, "no recording"),
        (not_there, "no such file"),
    ],
)
def test_what_is_no_recording(fieldvoice: Call, tmp_path: Path, make, says: str) -> None:
    path = make(tmp_path)
    done = fieldvoice("add", path, logbook=tmp_path / "log.db")
    assert done.code == 2
    assert says in done.sentence()
    assert path.name in done.sentence()


def test_no_permission(fieldvoice: Call, tmp_path: Path, speech: np.ndarray) -> None:
    path = write_sound(tmp_path / "locked.wav", speech, codec="pcm_s16le")
    path.chmod(0)
    done = fieldvoice("add", path, logbook=tmp_path / "log.db", before=BOUND)
    assert done.code == 2
    assert "permission" in done.sentence()


@pytest.mark.model
def test_one_bad_file_does_not_keep_out_the_good_one(
    fieldvoice: Call, tmp_path: Path, speech: np.ndarray
) -> None:
    folder = tmp_path / "day"
    folder.mkdir()
    renamed_text(folder)
    write_sound(folder / "good.wav", speech, codec="pcm_s16le")
    done = fieldvoice("add", folder, logbook=tmp_path / "log.db")
    assert done.code == 2
    assert "notes.wav" in done.sentence()
    assert recordings_in(tmp_path / "log.db") == ["good.wav"]


@pytest.mark.model
@pytest.mark.parametrize(
    ("name", "codec", "rate", "layout"),
    [("telephone.wav", "pcm_u8", 8_000, "mono"), ("studio.wav", "pcm_s24le", 96_000, "stereo")],
)
def test_odd_but_good_formats_are_heard(
    fieldvoice: Call,
    tmp_path: Path,
    speech: np.ndarray,
    name: str,
    codec: str,
    rate: int,
    layout: str,
) -> None:
    path = write_sound(tmp_path / name, speech, codec=codec, at=rate, layout=layout)
    done = fieldvoice("transcribe", path, "--json", logbook=tmp_path / "log.db")
    assert done.code == 0, done.err
    heard = done.json()
    assert heard["duration"] == pytest.approx(len(speech) / 16_000, abs=0.1)
    assert "gallon" in heard["text"].lower()


@pytest.mark.model
def test_a_truncated_mp3_gives_what_it_holds(
    fieldvoice: Call, tmp_path: Path, speech: np.ndarray
) -> None:
    whole = write_sound(tmp_path / "whole.mp3", speech, codec="libmp3lame")
    cut = tmp_path / "cut.mp3"
    raw = whole.read_bytes()
    cut.write_bytes(raw[: len(raw) * 2 // 3])
    done = fieldvoice("add", cut, logbook=tmp_path / "log.db")
    assert done.code == 0, done.err
    assert "Traceback" not in done.err
    assert recordings_in(tmp_path / "log.db") == ["cut.mp3"]


def test_a_logbook_that_is_no_database(fieldvoice: Call, tmp_path: Path) -> None:
    logbook = tmp_path / "log.db"
    logbook.write_text("hive 7: fed\n" * 100, encoding="utf-8")
    before = logbook.read_bytes()
    done = fieldvoice("log", logbook=logbook)
    assert done.code == 2
    assert "not a SQLite file" in done.sentence()
    assert logbook.read_bytes() == before


def test_a_logbook_of_a_newer_program(fieldvoice: Call, logbook: Path) -> None:
    with sqlite3.connect(logbook) as database:
        columns = [row[1] for row in database.execute("PRAGMA table_info(_sqlite_migrations)")]
        kept = ", ".join(c for c in columns if c not in ("id", "name"))
        database.execute(
            f"INSERT INTO _sqlite_migrations (name, {kept})"
            f" SELECT '9999_later', {kept} FROM _sqlite_migrations LIMIT 1"
        )
    database.close()
    before = rows_of(logbook)
    done = fieldvoice("drafts", logbook=logbook)
    assert done.code == 2
    assert "newer fieldvoice" in done.sentence()
    assert rows_of(logbook) == before


@pytest.mark.model
def test_a_disk_that_fills_up(
    fieldvoice: Call, demo_log: Path, tmp_path: Path, speech: np.ndarray
) -> None:
    logbook = tmp_path / "log.db"
    shutil.copy(demo_log, logbook)
    recording = write_sound(tmp_path / "more.wav", speech, codec="pcm_s16le")
    before = rows_of(logbook)
    # No file of the command may grow beyond this: writing fails as on a full disk.
    room = f"--fsize={20 * 1024}"
    done = fieldvoice("add", recording, logbook=logbook, before=["prlimit", room])
    assert done.code == 2
    assert "full" in done.sentence() or "no room" in done.sentence()
    assert rows_of(logbook) == before
    again = fieldvoice("add", recording, logbook=logbook)
    assert again.code == 0, again.err
    assert recordings_in(logbook)[-1:] != [] and "more.wav" in recordings_in(logbook)


@pytest.mark.model
def test_two_adds_at_once(tmp_path: Path, speech: np.ndarray) -> None:
    logbook = tmp_path / "log.db"
    one = write_sound(tmp_path / "one.wav", speech, codec="pcm_s16le")
    two = write_sound(tmp_path / "two.wav", speech[: 8 * 16_000], codec="pcm_s16le")
    environment = os.environ | {"HOME": str(tmp_path)}
    both = [
        subprocess.Popen(
            [COMMAND, "--logbook", logbook, "add", *files],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=environment,
        )
        for files in ([one, two], [two, one])  # each recording by both: known, not doubled
    ]
    for process in both:
        out, _ = process.communicate(timeout=200)
        assert process.returncode == 0, out
        assert "Traceback" not in out
    assert sorted(recordings_in(logbook)) == ["one.wav", "two.wav"]
    assert integrity(logbook) == "ok"


def recordings_in(logbook: Path) -> list[str]:
    with sqlite3.connect(logbook) as database:
        paths = database.execute("SELECT path FROM recordings ORDER BY id").fetchall()
    database.close()
    return [Path(path).name for (path,) in paths]


def rows_of(logbook: Path) -> list[tuple[str, ...]]:
    """Everything that a keeper would miss."""
    with sqlite3.connect(logbook) as database:
        rows = [
            row
            for table in ("recordings", "drafts", "entries", "history", "hives")
            for row in database.execute(f"SELECT * FROM {table}")
        ]
    database.close()
    return rows


def integrity(logbook: Path) -> str:
    with sqlite3.connect(logbook) as database:
        answer = database.execute("PRAGMA integrity_check").fetchone()[0]
    database.close()
    return str(answer)
