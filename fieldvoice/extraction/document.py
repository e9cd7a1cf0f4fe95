"""A text as tokens and sentences, with character positions kept."""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spacy.tokens import Doc


@dataclass(frozen=True, slots=True)
class Token:
    """One token; `start` and `end` are characters of the document's text, end exclusive."""

    text: str
    low: str  # lower case, curly apostrophes made straight
    start: int
    end: int
    sentence: int  # number of the sentence it stands in
    origin: tuple[int, int]  # the same place in the text as it came
    heard: str = ""  # what the text as it came has instead, if the token was respelled


@dataclass(frozen=True, slots=True)
class Document:
    """A narration's text, misheard words put right, cut into tokens."""

    text: str
    tokens: tuple[Token, ...]
    source: str  # the text as it came

    def said(self, first: int, last: int) -> str:
        """The words of tokens first to last (exclusive) as they came."""
        return self.source[self.tokens[first].origin[0] : self.tokens[last - 1].origin[1]]


def spacy_without_torch() -> Any:
    """Import spaCy without torch.

    thinc imports torch wherever it is installed, which costs a second that this pipeline
    does not need; a None in sys.modules makes that import fail at once.
    """
    absent = "torch" not in sys.modules
    if absent:
        sys.modules["torch"] = None  # type: ignore[assignment]
    try:
        import spacy
    finally:
        if absent:
            del sys.modules["torch"]
    return spacy


# spaCy keeps "5.One", "seven-frame" or "A3" whole or not by rules made for prose; a
# hyphen between words or letters and a dash always part words here.
_SPLIT = re.compile(
    r"(?<=^[A-Za-z])(\.)$|(?<=[A-Za-z0-9])(-|–|—|/|\.\.\.|…)(?=[A-Za-z])|(?<=[A-Za-z])(-|–|—)(?=\d)|(?<=[a-z])(\.)(?=[A-Za-z]{2})"
)
_ENDS = {".", "?", "!", "...", "…"}


def read_document(doc: Doc) -> Document:
    """A spaCy Doc as tokens and sentences of this room."""
    tokens: list[Token] = []
    sentence = 0
    for word in doc:
        for piece, start in _pieces(word.text, word.idx):
            if not piece.strip():
                continue
            low = piece.lower().replace("’", "'")
            place = (start, start + len(piece))
            tokens.append(Token(piece, low, *place, sentence, place))
            if low in _ENDS:
                sentence += 1
    return Document(doc.text, tuple(tokens), doc.text)


def _pieces(word: str, at: int) -> list[tuple[str, int]]:
    out, last = [], 0
    for hit in _SPLIT.finditer(word):
        out += [(word[last : hit.start()], at + last), (hit.group(), at + hit.start())]
        last = hit.end()
    out.append((word[last:], at + last))
    return [(piece, start) for piece, start in out if piece]
