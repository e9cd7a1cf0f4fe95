"""`fieldvoice add` as installed, with its real engine, killed while it hears."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from makers import COMMAND, query, write_sound

from fieldvoice.hearing.decode import RATE, decode
from fieldvoice.locate import shipped

pytestmark = pytest.mark.model
SECONDS = 125  # long enough to be stopped in the middle


@pytest.fixture
def talk(tmp_path: Path) -> Path:
    """Two minutes of a demo recording."""
    sound = np.concatenate([*decode(shipped("demo") / "orchard-may.ogg")])
    return write_sound(tmp_path / "talk.wav", sound[: SECONDS * RATE])


def windows_of(path: Path) -> list[Any]:
    try:
        return query(path, "SELECT key, heard_at, result FROM windows ORDER BY key")
    except sqlite3.OperationalError:  # not made yet
        return []


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
def test_what_was_heard_before_the_end_is_not_heard_again(
    path: Path, command: Callable[..., Any], talk: Path, how: signal.Signals
) -> None:
    signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored if run in the background
    process = subprocess.Popen(
        [COMMAND, "add", talk],
        env=os.environ | {"FIELDVOICE_LOGBOOK": str(path)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    while not path.exists() or not (before := windows_of(path)):
        assert process.poll() is None, "it was done before it could be killed"
        time.sleep(0.005)
    process.send_signal(how)
    _, told = process.communicate(timeout=60)
    if how == signal.SIGINT:
        assert process.returncode == 130
        assert told.split("\n")[-2].startswith("Stopped. Nothing was lost")
        assert "Traceback" not in told
    assert query(path, "SELECT count(*) FROM recordings") == [(0,)]
    before = windows_of(path)
    time.sleep(1.1)  # so that a window heard again would carry another second
    done = command("add", talk, "--yard", "orchard")
    assert done.code == 0, done.err
    after = windows_of(path)
    assert len(after) > len(before)
    assert [window for window in after if window in before] == before
    assert query(path, "SELECT stage FROM recordings") == [("drafted",)]
    (known,) = command("add", talk, "--json").json()
    assert (known["outcome"], known["yard"]) == ("known", "orchard")
    assert query(path, "SELECT count(*) FROM recordings") == [(1,)]
