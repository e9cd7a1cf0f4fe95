from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.engines.words import merge


def timed(*parts: str) -> list[Timed]:
    return [Timed(p, i, i + 1, 0.9 - i / 100, (i,)) for i, p in enumerate(parts)]


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ((" Hive", " 7", ",", " two"), ["Hive", "7,", "two"]),
        ((" a", " 2", ":", "1", " ratio", "."), ["a", "2:1", "ratio."]),
        ((' "', " yes", '"', "."), ['" yes".']),
        ((" twenty", "-", "five"), ["twenty-five"]),
        ((" 50", "%"), ["50%"]),
        ((" $", "5"), ["$5"]),
        ((" .", " ."), []),
    ],
)
def test_signs_join_their_word(parts: tuple[str, ...], words: list[str]) -> None:
    assert [w.word for w in merge(timed(*parts))] == words


def test_a_joined_number_has_the_time_and_the_doubt_of_all_its_parts() -> None:
    (ratio,) = merge(timed(" 2", ":", "1"))
    assert (ratio.start, ratio.end) == (0, 3)
    assert ratio.probability == pytest.approx(0.88)
    assert ratio.tokens == (0, 1, 2)


def test_a_comma_does_not_lengthen_a_word() -> None:
    (word,) = merge(timed(" seven", ","))
    assert (word.start, word.end, word.probability) == (0, 1, 0.9)


@given(st.lists(st.text(' ab1.,-"', max_size=4), max_size=12))
def test_no_letter_is_lost_and_order_is_kept(parts: list[str]) -> None:
    out = merge(timed(*parts))
    kept = "".join(c for w in out for c in w.word if c.isalnum())
    assert kept == "".join(c for p in parts for c in p if c.isalnum())
    assert [w.start for w in out] == sorted(w.start for w in out)
