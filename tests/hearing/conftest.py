from __future__ import annotations

import pytest
from hearing_sounds import ASTERISK, ASTERISK_TEXT, SPHINX

from fieldvoice.hearing.engines import Engine
from fieldvoice.hearing.engines.ctranslate import CTranslate2Engine
from fieldvoice.hearing.engines.openai import WhisperEngine
from fieldvoice.hearing.weights import find_weights


@pytest.fixture(scope="session", autouse=True)
def human_speech() -> None:
    missing = [p for p in (SPHINX, ASTERISK, ASTERISK_TEXT) if not p.exists()]
    if missing:
        pytest.fail(
            f"{missing} not there: apt-get install pocketsphinx-testdata "
            "asterisk-core-sounds-en asterisk-core-sounds-en-g722"
        )


@pytest.fixture(scope="session")
def ctranslate2() -> Engine:
    return CTranslate2Engine(find_weights("tiny.en").folder, "tiny.en")


@pytest.fixture(scope="session")
def whisper() -> Engine:
    return WhisperEngine(find_weights("tiny.en").folder, "tiny.en", device="cpu")


@pytest.fixture(params=["ctranslate2", "whisper"])
def engine(request: pytest.FixtureRequest) -> Engine:
    return request.getfixturevalue(request.param)
