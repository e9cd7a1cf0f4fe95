"""`fieldvoice forget`: the sound is gone from the disk and from the logbook; the rows keep their words."""

from __future__ import annotations

import hashlib
import os
import subprocess
from pathlib import Path

import pytest

from fieldvoice.logbook.drafts import save_step, waiting_drafts
from fieldvoice.logbook.forgetting import forgotten_on
from fieldvoice.logbook.opening import open_logbook
from fieldvoice.logbook.recordings import looked_at_unheard, recordings
from fieldvoice.logbook.waveforms import keep_waveform
from fieldvoice.logbook.windows import Windows
from fieldvoice.review import decisions
from tests.makers import COMMAND, MAY, query
from tests.trust.scenes import adding
from tests.trust.sounds import talk
from tests.trust.worth import all_of, faults_in, make_logbook

LOUD = bytes([201, 17, 203, 19, 207, 23, 211, 29]) * 40


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A logbook with one real recording that was reviewed, its waveform, and heard windows."""
    talk(tmp_path / "talk.ogg", 25.0)
    make_logbook(tmp_path / "log.db", rows=8, waiting=0)
    subprocess.run(adding(tmp_path), check=True, capture_output=True)
    with open_logbook(tmp_path / "log.db") as logbook:
        uuid = _added(logbook)
        for draft in waiting_drafts(logbook):
            save_step(logbook, decisions.confirm([draft], MAY))
        for recording in recordings(logbook):
            looked_at_unheard(logbook, recording.uuid, MAY)
        keep_waveform(logbook, uuid, LOUD)
    return tmp_path


def _added(logbook: object) -> str:
    return next(r.uuid for r in recordings(logbook) if r.path.endswith("talk.ogg"))


def forget(folder: Path, *words: str, keys: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(COMMAND), "--logbook", str(folder / "log.db"), "forget", *words],
        input=keys, capture_output=True, text=True, check=False, env=os.environ | {"TZ": "UTC"},
    )  # fmt: skip


def test_the_sound_goes_and_the_rows_keep_their_words(folder: Path) -> None:
    before = all_of(folder / "log.db")
    assert LOUD[:200] in (folder / "log.db").read_bytes()
    assert query(folder / "log.db", "SELECT count(*) FROM windows") != [(0,)]
    done = forget(folder, "talk.ogg", keys="y\n")
    assert done.returncode == 0, done.stderr
    assert "for good?" in done.stdout
    assert "Copies elsewhere" in done.stdout
    assert not (folder / "talk.ogg").exists()
    assert all_of(folder / "log.db") == before
    assert faults_in(folder / "log.db") == []
    assert query(folder / "log.db", "SELECT count(*) FROM windows") == [(0,)]
    assert query(folder / "log.db", "SELECT count(*) FROM waveforms") == [(0,)]
    # Not even in pages of the file that are free now.
    assert all(
        LOUD[:64] not in path.read_bytes() for path in folder.iterdir() if "log.db" in path.name
    )


def test_it_asks_first(folder: Path) -> None:
    for keys in ("n\n", ""):
        done = forget(folder, "talk.ogg", keys=keys)
        assert done.returncode == 130
        assert (folder / "talk.ogg").exists()
    assert query(folder / "log.db", "SELECT count(*) FROM waveforms") == [(1,)]


def test_what_waits_is_reviewed_first(folder: Path) -> None:
    talk(folder / "more.ogg", 25.0, seed=2)
    subprocess.run(adding(folder, "more.ogg"), check=True, capture_output=True)
    refused = forget(folder, "more.ogg", "--yes")
    assert refused.returncode == 2
    assert "`fieldvoice review` first" in refused.stderr
    assert (folder / "more.ogg").exists()
    assert forget(folder, "more.ogg", "--yes", "--unreviewed").returncode == 0
    assert not (folder / "more.ogg").exists()
    assert (folder / "talk.ogg").exists()


def test_another_file_of_that_name_is_left_alone(folder: Path) -> None:
    talk(folder / "talk.ogg", 3.0, seed=9)
    digest = hashlib.sha256((folder / "talk.ogg").read_bytes()).hexdigest()
    assert forget(folder, "talk.ogg", "--yes").returncode == 0
    assert hashlib.sha256((folder / "talk.ogg").read_bytes()).hexdigest() == digest


def test_what_is_not_there_is_said(folder: Path) -> None:
    done = forget(folder, "sunday.ogg", "--yes")
    assert (done.returncode, done.stdout) == (2, "")
    assert "no recording sunday.ogg in this logbook" in done.stderr
    assert forget(folder, "talk.ogg", "--yes").returncode == 0
    again = forget(folder, "talk.ogg", "--yes")  # as after a kill between the two deletions
    assert again.returncode == 0


def test_a_file_that_cannot_be_deleted_is_said_and_nothing_is_noted(folder: Path) -> None:
    held = folder / "held"
    held.mkdir()
    talk(held / "here.ogg", 25.0, seed=3)
    subprocess.run(adding(folder, "held/here.ogg"), check=True, capture_output=True)
    held.chmod(0o555)
    words = ["--logbook", str(folder / "log.db"), "forget", "here.ogg", "--yes", "--unreviewed"]
    bound = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]
    done = subprocess.run(
        [*bound, str(COMMAND), *words], capture_output=True, text=True, check=False
    )
    held.chmod(0o755)
    assert done.returncode == 2
    assert "delete it by hand" in done.stderr
    assert query(folder / "log.db", "SELECT count(*) FROM forgotten") == [(0,)]


def test_the_page_says_that_the_sound_is_gone(folder: Path) -> None:
    from starlette.testclient import TestClient

    from fieldvoice.cli.page import bench_of
    from fieldvoice.review.page.answers import Answers
    from fieldvoice.review.page.app import make_app

    with open_logbook(folder / "log.db") as logbook:
        uuid = _added(logbook)
        client = TestClient(make_app(Answers(bench_of(logbook, folder / "log.db"))))
        assert client.get(f"/recordings/{uuid}/sound").status_code == 206
    assert forget(folder, "talk.ogg", "--yes").returncode == 0
    with open_logbook(folder / "log.db") as logbook:
        day = forgotten_on(logbook, uuid)
        client = TestClient(make_app(Answers(bench_of(logbook, folder / "log.db"))))
        told = client.get(f"/recordings/{uuid}/sound")
        assert told.status_code == 404
        assert told.json()["problem"] == (
            f"Its sound was deleted on {day} with `fieldvoice forget`; the words and rows stay."
        )
        picture = client.get(f"/recordings/{uuid}/waveform").json()
        assert picture["gone"] is True
        assert picture["columns"] == []
        assert "said 0" in client.get(f"/recordings/{uuid}").text


def test_windows_of_a_recording_that_is_being_heard_stay(folder: Path) -> None:
    with open_logbook(folder / "log.db") as logbook:
        logbook.execute("UPDATE recordings SET added_at = '2026-05-03T07:30:00Z'")
        Windows(logbook).put("later|0", {"words": []})
        logbook.conn.commit()
    assert forget(folder, "talk.ogg", "--yes").returncode == 0
    assert ("later|0",) in query(folder / "log.db", "SELECT key FROM windows")
