from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from distributed import LocalCluster
from hearing_sounds import joined, librivox, load, write

from fieldvoice.errors import InputError
from fieldvoice.hearing.cluster import dask_crew
from fieldvoice.hearing.engines import Engine
from fieldvoice.hearing.store import MemoryStore
from fieldvoice.hearing.transcribe import hear
from fieldvoice.hearing.vocabulary import vocabulary_from
from fieldvoice.trade.load import trade_file

YARD = vocabulary_from(trade_file("speech"), ["1", "2", "3", "A3", "nuc 2"])


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Two worker processes of one thread each, as on two machines."""
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        yield cluster


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four windows and more: LibriVox sentences, twice over."""
    sound, _ = joined([load(path) for path, _ in librivox()] * 2, gap=2.0)
    return write(tmp_path_factory.mktemp("sound") / "reading.flac", sound, "flac")


def test_a_cluster_hears_what_threads_hear(
    cluster: LocalCluster, reading: Path, ctranslate2: Engine
) -> None:
    here = hear(reading, engine=ctranslate2, vocabulary=YARD)
    store = MemoryStore()
    with dask_crew(cluster.scheduler_address) as crew:
        assert crew.workers == 2
        there = hear(reading, engine=ctranslate2, vocabulary=YARD, crew=crew, store=store)
    assert there == here
    assert len(store) >= 2
    assert "vessel" in here.text or len(here.text.split()) > 100


def test_the_command_hears_on_a_cluster(cluster: LocalCluster, tmp_path: Path) -> None:
    command = [
        sys.executable, "-m", "fieldvoice", "--logbook", str(tmp_path / "log.db"), "transcribe",
        str(librivox()[1][0]), "--engine", "ctranslate2", "--json",
    ]  # fmt: skip
    with_cluster = [*command, "--dask", cluster.scheduler_address]
    runs = [
        subprocess.run(c, capture_output=True, text=True, check=True)
        for c in (command, with_cluster)
    ]
    here, there = (json.loads(run.stdout) for run in runs)
    assert there["text"]
    assert there == here


def test_an_address_where_nothing_answers_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fieldvoice.hearing.cluster.TIMEOUT", 1)
    with pytest.raises(InputError, match="No Dask scheduler answers"), dask_crew("127.0.0.1:9"):
        pass
