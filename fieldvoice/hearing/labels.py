"""Which label of the register was said: the decoder weighs them all on the sound.

Beam search writes what English makes likely ("high ate"); the register knows better.
At each site every label is put in the place of the heard words and scored by the decoder
with the true words before and after it (teacher forcing). The best takes the place, and
its lead over the next in nats says how sure that is.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from fieldvoice.hearing.beside import Beside, opening
from fieldvoice.hearing.engines import Timed
from fieldvoice.hearing.scoring import Scene
from fieldvoice.hearing.sites import Site, bare, ends_clause, names_itself, number_in, sites
from fieldvoice.hearing.vocabulary import Vocabulary

AFTER = 2  # words after the label that must fit too
SHORTLIST = 5  # labels that are tried with those words, at most
BEHIND = 7.0  # nats behind the best on the shortlist's score from which on a label is out
MISSED = 4.0  # nats less for the lead of "3" over "A3": a short sound before it may have been lost
LONGEST = 4  # words of a cue and a label
PRIOR = 0.4  # share of what language alone makes likely that is taken off again

Encode = Callable[[str], list[int]]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A text for a site, its label if it is one, and how well it fits the sound."""

    text: str
    label: str | None
    score: float  # natural log; only differences mean something


@dataclass(frozen=True, slots=True)
class Choice:
    """Words [first, last) and what they may be, the best first; label None is as heard."""

    site: Site
    first: int
    last: int
    candidates: tuple[Candidate, ...]
    said: str | None = None  # the label that follows what was heard for the cue
    expected: bool = False  # a label must follow: no article, no adjective stands before
    lead: float | None = None  # of the best label over the next, both models; None: one was asked
    theirs: str | None = None  # the label that the second model heard there
    rather: float = 0.0  # nats by which it found that likelier than the word that we heard
    spelt: bool = False  # `said` is that label only if a word is taken for its letter


@dataclass(frozen=True, slots=True)
class Judge:
    """The decoder over one window, and over silence, where it knows language alone."""

    scene: Scene
    silence: Scene
    lead: int  # tokens before the text, in both
    encode: Encode
    known: dict[str, float] = field(default_factory=dict)  # scores in silence, kept

    def rank(self, after: int, texts: Sequence[str]) -> list[float]:
        """Log probability with the words before, but for a constant: enough for a shortlist."""
        tokens = self._tokens(texts)
        if all(len(one) == 1 for one in tokens):
            return self.scene.compare(after, [one[0] for one in tokens])
        return self.scene.scores(after, tokens)

    def weigh(self, after: int, texts: Sequence[str], rest: str) -> list[float]:
        """Log probability of each text and the rest, less a share of what it has unheard.

        Whisper thinks "Hive 3" far likelier than "Hive A3" before it listens; here all
        labels of the register are equally likely until heard.
        """
        heard = self.scene.scores(after, self._tokens([f"{text} {rest}" for text in texts]))
        new = [text for text in texts if text not in self.known]
        if new:
            self.known.update(
                zip(new, self.silence.scores(self.lead, self._tokens(new)), strict=True)
            )
        return [h - PRIOR * self.known[text] for h, text in zip(heard, texts, strict=True)]

    def _tokens(self, texts: Sequence[str]) -> list[list[int]]:
        return [self.encode(f" {text.strip()}") for text in texts]


def choose(
    words: Sequence[Timed], vocabulary: Vocabulary, judge: Judge, second: Beside | None = None
) -> list[Choice]:
    """Every site of a window with its candidates."""
    choices = [_weigh(words, site, vocabulary, judge) for site in sites(words, vocabulary)]
    if second is None:
        return choices
    return [_with_second(choice, words, vocabulary, second) for choice in choices]


def _with_second(
    choice: Choice, words: Sequence[Timed], vocabulary: Vocabulary, second: Beside
) -> Choice:
    """The choice with what the second model has to say, if it heard the cue as well.

    Labels are put in the order of both scores; only right after the cue is there a place
    that is the label's in both.
    """
    cue = second.place.get(choice.first)
    if cue is None or not choice.site.certain or choice.site.glued:
        return choice
    heard = [Timed(word, 0, 0, 0) for word in second.opinion.words[cue : cue + LONGEST]]
    site = next(sites(heard, vocabulary), None)
    theirs = said_label(heard, site, vocabulary) if site and not site.first else None
    if second.place.get(choice.first + 1) != cue + 1:
        return replace(choice, theirs=theirs)
    if theirs is not None:
        ours = second.chance_of(cue + 1, words[choice.first + 1].word)
        own = second.chance_of(cue + 1, opening(theirs))
        rather = max(0.0, own - ours) if own is not None and ours is not None else 0.0
        choice = replace(choice, theirs=theirs, rather=rather)
    both = _together(choice, second)
    if both is None:
        return choice
    labels = [c for c in choice.candidates if c.label is not None]
    labels.sort(key=lambda c: -both[c.label or ""])
    rest = iter(labels)
    ordered = tuple(c if c.label is None else next(rest) for c in choice.candidates)
    return replace(choice, candidates=ordered, lead=_lead(both))


def _lead(both: dict[str, float]) -> float | None:
    """By how much the best label leads, less if it may be the next one with its start lost."""
    if len(both) < 2:
        return None
    best, *others = sorted(both, key=lambda label: -both[label])
    return min(both[best] - both[other] - MISSED * other.endswith(best) for other in others)


def _together(choice: Choice, second: Beside) -> dict[str, float] | None:
    """Each label's score of both models; None: the second was not asked about one of them."""
    name = second.place[choice.first + 1]
    both: dict[str, float] = {}
    for candidate in choice.candidates:
        if candidate.label is not None:
            chance = second.chance_of(name, opening(candidate.label))
            if chance is None:
                return None
            both[candidate.label] = candidate.score + chance
    return both


def _weigh(words: Sequence[Timed], site: Site, vocabulary: Vocabulary, judge: Judge) -> Choice:
    after = judge.lead + sum(len(w.tokens) for w in words[: site.first])
    named = _named(words, site, vocabulary)
    ranked = sorted(
        zip(named, judge.rank(after, list(named.values())), strict=True),
        key=lambda pair: pair[1],
        reverse=True,
    )
    heard = _label_of(words, site, vocabulary)
    near = [label for label, score in ranked if score > ranked[0][1] - BEHIND]
    short = list(dict.fromkeys([*([heard] if heard else []), *near]))
    tried: list[tuple[str, str | None]] = [(_heard_text(words, site), None)]
    tried += [
        (text, label)
        for label in short[:SHORTLIST]
        for text in _placed(words, site, label, named[label])
    ]
    rest = " ".join(w.word for w in words[site.last : site.last + AFTER])
    scores = judge.weigh(after, [text for text, _ in tried], rest)
    best: dict[str | None, Candidate] = {}
    for (text, label), score in zip(tried, scores, strict=True):
        if label not in best or score > best[label].score:
            best[label] = Candidate(text, label, score)
    if heard is not None:  # then the words as heard are that label already
        best[heard] = max(
            replace(best.pop(None), label=heard, text=best[heard].text),
            best[heard],
            key=lambda c: c.score,
        )
    spelt = _spelt_label(words, site, vocabulary) if heard is None else None
    if spelt is not None:  # what was heard is how that label sounds
        best[spelt] = Candidate(named[spelt], spelt, best[None].score)
    ordered = sorted(best.values(), key=lambda c: c.score, reverse=True)
    common = bare(words[site.first].word) in vocabulary.common
    said = None if common else spelt or said_label(words, site, vocabulary)
    expected = site.cue == vocabulary.cue and not common and names_itself(words, site.first)
    return Choice(
        site, site.first, site.last, tuple(ordered), said, expected, spelt=spelt is not None
    )


def _named(words: Sequence[Timed], site: Site, vocabulary: Vocabulary) -> dict[str, str]:
    """Every label that can stand at this site, as it would be written there."""
    cue = site.cue
    opens = site.first == 0 or words[site.first - 1].word[-1:] in ".!?"
    if opens or words[site.first].word[:1].isupper():
        cue = cue[:1].upper() + cue[1:]
    own = site.cue in vocabulary.firsts
    out = {}
    for label in vocabulary.labels:
        first, _, rest = label.partition(" ")
        if own and rest and first.lower() == site.cue:
            out[label] = f"{cue} {rest}"
        elif not own and not rest:
            out[label] = f"{cue} {label}"
    return out


def _heard_text(words: Sequence[Timed], site: Site) -> str:
    return " ".join(w.word for w in words[site.first : site.last])


def _placed(words: Sequence[Timed], site: Site, label: str, named: str) -> Iterator[str]:
    """The label in the place of one, two or three of the heard words, the others after it."""
    inside = words[site.first : site.last]
    for taken in range(1 if site.glued else 2, len(inside) + 1):
        last = inside[taken - 1].word
        rest = " ".join(w.word for w in inside[taken:])
        if ends_clause(last):
            yield f"{named}{last[-1]} {rest}".strip()
        else:
            yield f"{named} {rest}".strip()
            yield f"{named}, {rest}".strip()
            if re.fullmatch(r"a\d", bare(last)):  # "hive eight a frame" heard as "hive A2 frame"
                yield f"{named} a {rest}".strip()
        digits = bare(last)
        if digits.isdigit() and digits.startswith(label) and digits != label:
            yield f"{named}, {digits.removeprefix(label)} {rest}".strip()  # "six, two" heard as 62


def _label_of(words: Sequence[Timed], site: Site, vocabulary: Vocabulary) -> str | None:
    """The label of the register that the heard words already are, if they are one."""
    return said_label(words, site, vocabulary) if site.certain else None


def _spelt_label(words: Sequence[Timed], site: Site, vocabulary: Vocabulary) -> str | None:
    """The label whose letter a word may be before its number: "hive at one" is A1."""
    said = [bare(w.word) for w in words[site.first : site.last]]
    number = number_in(said[2]) if len(said) == 3 and site.certain else None
    if number is None or site.cue in vocabulary.firsts:
        return None
    sounds = {f"{letter}{number}" for letter, many in vocabulary.letters.items() if said[1] in many}
    return next((label for label in vocabulary.labels if label in sounds), None)


def said_label(words: Sequence[Timed], site: Site, vocabulary: Vocabulary) -> str | None:
    """The label of the register that stands after the cue, or what was heard for the cue."""
    own = site.cue in vocabulary.firsts
    said = [bare(w.word) for w in words[site.first : site.last]]
    if site.glued:
        said = [site.cue, re.sub(r"^[a-z']+-?(?=.)", "", said[0]) or said[0]]
    for count in range(len(said), 1, -1):
        parts = [str(n) if (n := number_in(p)) is not None else p for p in said[1:count]]
        name = " ".join([site.cue, *parts]) if own else "".join(parts)
        for label in vocabulary.labels:
            if label.lower() == name:
                return label
    return None
