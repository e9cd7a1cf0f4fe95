"""What the tests of listening share: a sound server, and the helpers of hearing and of the command."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "hearing"))
sys.path.insert(0, str(Path(__file__).parent.parent / "cli"))
from sound_server import Server


@pytest.fixture
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    # Names of sockets are short.
    made = Server(tmp_path_factory.mktemp("pa"))
    made.start()
    yield made
    made.stop()
