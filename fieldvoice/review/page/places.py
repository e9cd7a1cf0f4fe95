"""Where in a recording words were said."""

from __future__ import annotations

import re

from fieldvoice.types import Stretch, Transcript


def place_of(words: str, transcript: Transcript, after: float = 0.0) -> Stretch | None:
    """The first stretch from `after` (seconds) in which these words were heard on end.

    >>> from fieldvoice.types import Segment, Word
    >>> heard = Segment(1, 3, "", (Word("saw", 1, 2, 1), Word("Eggs.", 2, 3, 1)))
    >>> place_of("eggs", Transcript("", "en", "", "", 3, (heard,)))
    Stretch(start=2, end=3)
    """
    wanted = [_bare(word) for word in words.split()]
    heard = [word for segment in transcript.segments for word in segment.words]
    bare = [_bare(word.word) for word in heard]
    for at in range(len(bare) - len(wanted) + 1 if wanted else 0):
        if heard[at].start >= after and bare[at : at + len(wanted)] == wanted:
            return Stretch(heard[at].start, heard[at + len(wanted) - 1].end)
    return None


def _bare(word: str) -> str:
    return re.sub(r"[^\w]", "", word.lower())
