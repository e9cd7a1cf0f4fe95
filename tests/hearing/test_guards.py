from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.engines import Decoded
from fieldvoice.hearing.guards import judge, leaks, squeeze

PROMPT = "Hive 7, two to one. Hive 12, frame 3. nuc, brood, super, varroa, mite wash, thymol."
PLAIN = "Hive 9 has eight frames of brood and I saw the queen on frame four, so I closed it up."


def decoded(
    text: str, tokens: int | None = None, no_speech: float = 0.01, logprob: float = -0.5
) -> Decoded:
    count = len(text.split()) * 4 // 3 if tokens is None else tokens
    return Decoded(text, tuple(range(count)), no_speech, logprob)


def test_plain_talk_passes() -> None:
    assert judge(decoded(PLAIN), 7.0, PROMPT).ok


def test_a_loop_is_seen() -> None:
    loop = "I need to buy 40 more. " * 12
    assert squeeze(loop) > 1.9
    assert "loop" in judge(decoded(loop), 28.0, PROMPT).reasons
    digits = "Hive 8, 5, " + "4, " * 40
    assert "loop" in judge(decoded(digits), 28.0, PROMPT).reasons


def test_long_plain_talk_is_no_loop() -> None:
    """The sample sentences of the Harvard list 1 (IEEE 1969), read as one window."""
    harvard = (
        "The birch canoe slid on the smooth planks. Glue the sheet to the dark blue background. "
        "It's easy to tell the depth of a well. These days a chicken leg is a rare dish. "
        "Rice is often served in round bowls. The juice of lemons makes fine punch. "
        "The box was thrown beside the parked truck. The hogs were fed chopped corn and garbage. "
        "Four hours of steady work faced us. A large size in stockings is hard to sell."
    )
    assert squeeze(harvard) < 1.9
    assert judge(decoded(harvard), 28.0, PROMPT).ok


def test_an_impossible_rate_is_seen() -> None:
    assert judge(decoded(PLAIN, tokens=100), 5.0, "").reasons == ("rate",)


def test_no_speech_is_seen() -> None:
    assert judge(decoded("Thank you.", no_speech=0.7), 2.0, "").reasons == ("no speech",)
    sure = decoded(PLAIN, no_speech=0.7, logprob=-0.2)
    assert judge(sure, 7.0, "", alone=True).ok
    assert judge(sure, 7.0, "").reasons == ("no speech",)
    oh = decoded("Oh, oh, oh.", no_speech=0.7, logprob=-0.5)  # what base makes of bees' hum
    assert judge(oh, 2.0, "", alone=True).reasons == ("no speech",)


def test_the_prompt_in_the_text_is_seen() -> None:
    assert leaks("nuc, brood, super, varroa, mite wash", PROMPT)
    assert "leak" in judge(decoded("Hive 7, two to one."), 2.0, PROMPT).reasons


def test_words_of_the_prompt_in_another_order_are_no_leak() -> None:
    assert not leaks("Hive 7 got thymol. Varroa wash of the nuc, two brood frames.", PROMPT)
    assert not leaks("Hive 7", PROMPT)


@given(st.text())
def test_any_text_can_be_judged(text: str) -> None:
    assert squeeze(text) >= 0
    assert not leaks(text, "")
