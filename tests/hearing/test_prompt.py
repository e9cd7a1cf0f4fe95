from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.engines import Engine
from fieldvoice.hearing.prompt import MAX_TOKENS, build_prompt
from fieldvoice.hearing.vocabulary import Vocabulary, vocabulary_from
from fieldvoice.trade.load import trade_file


def test_the_trades_prompt_has_the_measured_size(ctranslate2: Engine) -> None:
    labels = [*map(str, range(1, 49)), "A3", "B12", "nuc 2"]
    prompt = build_prompt(
        vocabulary_from(trade_file("speech"), labels), lambda text: len(ctranslate2.tokens(text))
    )
    assert 60 <= len(ctranslate2.tokens(prompt)) <= 120
    assert prompt.startswith("Hive 7, two to one.")
    assert "Hive A3. Hive B12. nuc 2." in prompt


def test_both_engines_write_the_same_tokens(ctranslate2: Engine, whisper: Engine) -> None:
    text = "Hive 7, two to one. Propolis, nosema, chalkbrood."
    assert ctranslate2.tokens(text) == whisper.tokens(text)
    assert ctranslate2.lead(text) == whisper.lead(text)
    assert ctranslate2.lead("") == whisper.lead("")


def test_nothing_to_say_is_no_prompt() -> None:
    assert build_prompt(Vocabulary(), len) == ""


@given(
    style=st.text("abc 7.", max_size=200),
    labels=st.lists(st.text("AB123 ", min_size=1, max_size=6), max_size=40),
    words=st.lists(st.text("abcdef", min_size=1, max_size=12), max_size=60),
)
def test_the_prompt_is_never_too_long(style: str, labels: list[str], words: list[str]) -> None:
    def count(text: str) -> int:
        return len(text.split())

    prompt = build_prompt(Vocabulary(style, tuple(labels), tuple(words), "hive"), count)
    assert count(prompt) <= MAX_TOKENS
    assert prompt == prompt.strip()
