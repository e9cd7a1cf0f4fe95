"""Find the spoken signals in heard words, however the recogniser spelled them.

A signal is the keeper's phrase ("attention logbook") and, right after it, one of a short
closed list. Spelling is compared without spaces, so that "a tension log book" is near; the
list is so short that after the phrase a rough likeness is enough ("scratch mat").
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fieldvoice.listening.wording import Spoken, Wording
from fieldvoice.types import Signal, Word

_LONGEST_WAKE = 5  # words that the phrase may have been heard as
_LONGEST_COMMAND = 6
_SHORTEST = 0.82  # of the letters meant; "attention, look" is not "attention logbook"
_HEAD = 0.7  # how like the first word its beginning must be
_CERTAIN = 0.9  # likeness from which on it is the phrase, whatever it begins with
_NEAR_WAKE = 2  # words between the phrase and the signal that are passed over ("um")
_PASSED = 0.1  # likeness that each of them costs
_ENDS = (".", "!", "?", ";")


@dataclass(frozen=True, slots=True)
class _Token:
    text: str
    word: int  # which of the words it is a part of


def find_signals(words: Sequence[Word], wording: Wording) -> tuple[Signal, ...]:
    """All signals in `words`, in the order they were said; none ever overlaps another."""
    tokens = _tokens(words)
    found: list[Signal] = []
    at = 0
    while at < len(tokens):
        wake = _wake(tokens, at, wording)
        hit = _command(words, tokens, wake, wording) if wake is not None else None
        if hit is None:
            at += 1
            continue
        name, last = hit
        spoken = wording.signals[name]
        rest = _rest(words, tokens, last, spoken, wording)
        found.append(_signal(words, tokens, (at, last, rest), name))
        at = last
    return tuple(found)


def calls(words: Sequence[Word], wording: Wording) -> float | None:
    """When the phrase was last begun without a signal after it; None if it was not.

    Whoever hears as it is spoken waits for the rest, or says that it was not understood.
    """
    tokens = _tokens(words)
    for at in reversed(range(len(tokens))):
        wake = _wake(tokens, at, wording)
        if wake is not None and wake[1]:
            hit = _command(words, tokens, wake, wording)
            return words[tokens[at].word].start if hit is None else None
    return None


def likeness(heard: str, meant: str) -> float:
    """0 to 1: how near two texts are, letter by letter, spaces left out.

    >>> round(likeness("scratch mat", "scratch that"), 2)
    0.86
    """
    from rapidfuzz.fuzz import ratio

    return float(ratio(_letters(heard), _letters(meant))) / 100


def _tokens(words: Sequence[Word]) -> list[_Token]:
    return [
        _Token(part, number)
        for number, word in enumerate(words)
        for part in re.findall(r"[a-z0-9]+", word.word.lower())
    ]


def _letters(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.lower())


def _runs(tokens: Sequence[_Token], at: int, longest: int) -> Iterator[tuple[str, int]]:
    """The letters of the runs of tokens from `at` on, and where each ends."""
    for end in range(at + 1, min(at + longest, len(tokens)) + 1):
        yield "".join(t.text for t in tokens[at:end]), end


def _phrase(tokens: Sequence[_Token], at: int, wording: Wording) -> tuple[float, int]:
    """How like the phrase the words from `at` on are, and where it would end."""
    best = (0.0, at)
    for meant in wording.wake:
        first = _letters(meant.split()[0])
        for heard, end in _runs(tokens, at, _LONGEST_WAKE):
            long = len(heard) >= _SHORTEST * len(_letters(meant))
            if long and likeness(heard[: len(first)], first) >= _HEAD:
                best = max(best, (likeness(heard, meant), end), key=lambda s: (s[0], -s[1]))
    return best


def _wake(tokens: Sequence[_Token], at: int, wording: Wording) -> tuple[int, bool] | None:
    """Where the phrase ends that begins at `at`, and whether it was heard plainly; or None."""
    like, end = _phrase(tokens, at, wording)
    if like < _CERTAIN and any(_begins(tokens, at, words) for words in wording.never):
        return None
    # Not before a token that fits better as its beginning: "um attention logbook".
    later = _phrase(tokens, at + 1, wording)[0]
    if like < wording.wake_near or like < later:
        return None
    return end, like >= wording.wake_likeness


def _begins(tokens: Sequence[_Token], at: int, words: str) -> bool:
    wanted = words.split()
    return [t.text for t in tokens[at : at + len(wanted)]] == wanted


def _command(
    words: Sequence[Word], tokens: Sequence[_Token], wake: tuple[int, bool], wording: Wording
) -> tuple[str, int] | None:
    """The signal that follows the phrase, and where it ends."""
    after, plain = wake
    best: tuple[float, str, int] = (0.0, "", 0)
    for at in range(after, min(after + _NEAR_WAKE + 1, len(tokens))):
        if at > after and _ends(words, tokens[at - 1]):
            break  # what was said is over; a new sentence is no signal
        if words[tokens[at].word].start - words[tokens[after - 1].word].end > wording.reach:
            break
        runs = [
            (heard, end)
            for heard, end in _runs(tokens, at, _LONGEST_COMMAND)
            if not any(_ends(words, token) for token in tokens[at : end - 1])
        ]
        for name, spoken in wording.signals.items():
            for phrase in spoken.say:
                for heard, end in runs:
                    # What is passed over counts against it.
                    like = likeness(heard, phrase) - _PASSED * (at - after)
                    if like > best[0] and not (spoken.most and end >= len(tokens)):
                        best = (like, name, end)
    least = wording.command_likeness if plain else wording.command_sure
    return (best[1], best[2]) if best[0] >= least else None


def _ends(words: Sequence[Word], token: _Token) -> bool:
    """Whether a sentence ends with the word of the token."""
    return words[token.word].word.rstrip().endswith(_ENDS)


def _rest(
    words: Sequence[Word],
    tokens: Sequence[_Token],
    at: int,
    spoken: Spoken,
    wording: Wording,
) -> int:
    """Where the words end that belong to a signal: a pause, the next signal, or `most`."""
    end, taken = at, 0
    while end < len(tokens) and taken < spoken.most:
        word = words[tokens[end].word]
        before = words[tokens[end - 1].word]
        if word.start - before.end >= spoken.pause:
            break
        if end > at and _wake(tokens, end, wording) is not None:
            break
        taken += tokens[end].word != tokens[end - 1].word or end == at
        end += 1
        if spoken.most <= _LONGEST_COMMAND and word.word.rstrip().endswith((*_ENDS, ",")):
            break
    return end


def _signal(
    words: Sequence[Word], tokens: Sequence[_Token], places: tuple[int, int, int], name: str
) -> Signal:
    first, last, rest = places
    numbers = [tokens[n].word for n in range(first, last)]
    following = list(dict.fromkeys(tokens[n].word for n in range(last, rest)))
    said = [words[n] for n in dict.fromkeys(numbers)]
    return Signal(
        name=name,
        start=said[0].start,
        end=said[-1].end,
        until=words[following[-1]].end if following else said[-1].end,
        said=" ".join(w.word.strip() for w in said),
        rest=" ".join(words[n].word.strip() for n in following),
    )
