"""What needs a person: drafts with the doubtful ones first, and why, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from fieldvoice.types import Draft, Entry, Register

WHY = {
    "hive-unknown": "this hive is not in the register",
    "hive-assumed": "the hive was not named here, it is carried on from earlier talk",
    "conflict": "it was said two ways",
    "corrected": "it was corrected while talking",
    "heard-unsurely": "a word was not heard surely",
    "respelled": "a misheard word was put right",
    "unit-assumed": "no unit was named, your usual one was taken",
    "out-of-range": "the number is unusual for this",
    "ratio-order": "it is not sure which side of the ratio is sugar",
    "date-unsure": "the day is not sure",
    "marked": "you marked it aloud",
    "scratched": "you took it back aloud",
    "unsure-row": "it is not sure that this says anything to keep",
}

NOTHING_WAITS = "No drafts wait; `fieldvoice add RECORDING` makes new ones."


def open_flags(draft: Draft, register: Register) -> tuple[str, ...]:
    """The flags that still stand; a hive that is in the register by now is known."""
    hive = (draft.entry.hive or "").lower()
    known = {label.lower() for label in register.labels} | set(register.aliases)
    return tuple(
        flag for flag in draft.entry.flags if not (flag == "hive-unknown" and hive in known)
    )


def doubtful_first(drafts: Sequence[Draft], register: Register) -> tuple[Draft, ...]:
    """Recording by recording as given: flagged drafts first, the least sure foremost.

    Drafts without a flag follow in the order they were said.
    """
    order = {uuid: n for n, uuid in enumerate(dict.fromkeys(d.recording for d in drafts))}
    said = {draft.uuid: n for n, draft in enumerate(drafts)}

    def rank(draft: Draft) -> tuple[int, bool, float, int]:
        flagged = bool(open_flags(draft, register))
        unsure = draft.entry.confidence if flagged else 0.0
        return order[draft.recording], not flagged, unsure, said[draft.uuid]

    return tuple(sorted(drafts, key=rank))


def unflagged(drafts: Sequence[Draft], register: Register) -> tuple[Draft, ...]:
    """Drafts that may be confirmed unseen: no flag stands, and the hive is known."""
    known = {label.lower() for label in register.labels} | set(register.aliases)
    return tuple(
        draft
        for draft in drafts
        if not open_flags(draft, register)
        and (draft.entry.hive in (None, "all") or (draft.entry.hive or "").lower() in known)
    )


def why(flag: str, entry: Entry) -> str:
    """A flag in plain words, with what it rests on where extraction said so.

    >>> why("unit-assumed", Entry("7", "feed", "give", "syrup", "done"))
    'no unit was named, your usual one was taken'
    """
    part = flag.removeprefix("unsure-").replace("-", " ")
    words = WHY.get(flag) or (f"the {part} is not sure" if flag.startswith("unsure-") else part)
    grounds = [b.words for b in entry.because if b.rule == flag or b.field == flag]
    return f'{words} ("{grounds[0]}")' if grounds and grounds[0] else words
