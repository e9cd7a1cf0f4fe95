from __future__ import annotations

import os
from datetime import date, datetime
from pathlib import Path

import pytest
from hearing_sounds import hum, write
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.errors import InputError, RecordingError
from fieldvoice.hearing.moment import in_name, recorded_at


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    path = write(tmp_path / "note.wav", hum(0.5), "pcm_s16le")
    os.utime(path, (1_778_745_600, 1_778_745_600))
    return path


def test_the_option_wins(plain: Path) -> None:
    found = recorded_at(plain, "2026-05-14T09:30+02:00")
    assert found.source == "option"
    assert found.at == datetime.fromisoformat("2026-05-14T09:30+02:00")


def test_the_offset_is_kept_so_that_the_day_stays(plain: Path) -> None:
    found = recorded_at(plain, "2026-05-14T23:30-10:00").at
    assert (found.day, found.hour) == (14, 23)


def test_a_day_alone_means_noon(plain: Path) -> None:
    found = recorded_at(plain, "2026-05-14")
    assert (found.at.day, found.at.hour) == (14, 12)
    assert found.at.tzinfo is not None


@pytest.mark.parametrize("text", ["yesterday", "14.5.2026", "", "2026-13-01", "7"])
def test_an_option_that_is_no_date_is_refused(plain: Path, text: str) -> None:
    with pytest.raises(InputError, match="not a date"):
        recorded_at(plain, text)


@pytest.mark.parametrize(
    ("name", "codec", "key"),
    [
        ("20200101-note.m4a", "aac", "creation_time"),
        ("note.ogg", "libopus", "date"),
        ("note.flac", "flac", "date"),
    ],
)
def test_the_container_comes_before_the_name(
    tmp_path: Path, name: str, codec: str, key: str
) -> None:
    path = write(
        tmp_path / name, hum(0.5), codec, rate=48_000, metadata={key: "2026-05-14T07:30:00Z"}
    )
    found = recorded_at(path)
    assert found.source == "container"
    assert found.at == datetime.fromisoformat("2026-05-14T07:30:00+00:00")


def test_a_recorder_with_a_dead_clock_is_not_believed(tmp_path: Path) -> None:
    path = write(
        tmp_path / "2026-05-14.m4a", hum(0.5), "aac", rate=48_000,
        metadata={"creation_time": "1970-01-01T00:00:00Z"},
    )  # fmt: skip
    assert recorded_at(path).source == "file name"


def test_the_file_time_is_the_last_resort(plain: Path) -> None:
    found = recorded_at(plain)
    assert found.source == "file time"
    assert found.at.timestamp() == 1_778_745_600
    assert found.at.utcoffset() is not None


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="no such file"):
        recorded_at(tmp_path / "note.wav")


@pytest.mark.parametrize(
    ("name", "moment"),
    [
        ("2026-05-14 09-30-12.m4a", "2026-05-14 09:30:12"),
        ("20260514_093012.wav", "2026-05-14 09:30:12"),
        ("AUD-20260514-WA0007.opus", "2026-05-14 12:00:00"),
        ("REC_2026_05_14.mp3", "2026-05-14 12:00:00"),
        ("yard 2026.05.14.flac", "2026-05-14 12:00:00"),
        ("20260514T0930.wav", "2026-05-14 09:30:00"),
        ("note-2026-05-14 at 9.m4a", "2026-05-14 12:00:00"),
    ],
)
def test_dates_in_names(name: str, moment: str) -> None:
    found = in_name(name)
    assert found is not None
    assert f"{found:%Y-%m-%d %H:%M:%S}" == moment


@pytest.mark.parametrize(
    "name",
    ["note.wav", "hive7.mp3", "123456789012.wav", "20261399.wav", "2026-05.m4a", "20260231.wav"],
)
def test_no_date_in_names_that_have_none(name: str) -> None:
    assert in_name(name) is None


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)))
def test_any_day_written_plainly_is_read(day: date) -> None:
    for form in ("%Y-%m-%d", "%Y%m%d", "note %Y.%m.%d.wav"):
        found = in_name(day.strftime(form))
        assert found is not None
        assert found.date() == day


@given(st.text(max_size=40))
def test_any_name_can_be_read(name: str) -> None:
    in_name(name)
