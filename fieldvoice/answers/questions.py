"""The questions by name: what each asks, and the function that answers it."""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

if TYPE_CHECKING:
    from fieldvoice.answers.answer import Answer
    from fieldvoice.answers.ask import Ask


@dataclass(frozen=True, slots=True)
class Question:
    """One question a keeper asks."""

    where: str  # "module:function" of fieldvoice.answers, imported when it is asked
    about: str
    example: str


QUESTIONS: dict[str, Question] = {
    "visits": Question(
        "visits:visits",
        "When each hive was last opened, what was found, and which are overdue.",
        "fieldvoice visits --yard orchard",
    ),
    "due": Question(
        "due:due",
        "What to do now: plans, follow-ups, treatments due out, hives overdue.",
        "fieldvoice due --yard orchard",
    ),
    "load": Question(
        "due:load",
        "What to take along for the plans of a yard.",
        "fieldvoice load --yard orchard",
    ),
    "shopping": Question(
        "due:shopping",
        "What to buy or make, and the sugar for planned feed.",
        "fieldvoice shopping",
    ),
    "feed": Question(
        "feed:feed",
        "What was fed, how much, how strong, and how much sugar that was.",
        "fieldvoice feed 7 --since 2026-08-01",
    ),
    "mites": Question(
        "mites:mites",
        "One hive: each count with its interval. All: which are over the threshold or not tested.",
        "fieldvoice mites 7",
    ),
    "treatments": Question(
        "treatments:treatments",
        "What was put in, when it is due out by the label record, and what is still in.",
        "fieldvoice treatments --yard ridge",
    ),
    "supers": Question(
        "treatments:supers",
        "Whether something in the log stands against supers on, or honey off.",
        "fieldvoice supers --on 2026-05-20",
    ),
    "effect": Question(
        "treatments:effect",
        "Mites before and after each treatment.",
        "fieldvoice effect --since 2026-07-01",
    ),
    "queens": Question(
        "queens:queens",
        "Eggs and queen last seen, her mark, the year it suggests, where she came from.",
        "fieldvoice queens --yard orchard",
    ),
    "splits": Question(
        "queens:splits",
        "Splits, cells and new queens: when to look, and what is late.",
        "fieldvoice splits",
    ),
    "stores": Question(
        "stores:stores",
        "Honey as last told, what is missing for winter, feed and sugar for it.",
        "fieldvoice stores --yard orchard",
    ),
    "strength": Question(
        "strength:strength",
        "Frames, seams and words of bees, and who asks for room.",
        "fieldvoice strength",
    ),
    "winter": Question(
        "winter:winter",
        "Ready for winter: each point yes, no or unknown.",
        "fieldvoice winter --yard ridge",
    ),
    "equipment": Question(
        "equipment:equipment",
        "What is on a hive, from what was put on and taken off.",
        "fieldvoice equipment 7",
    ),
    "harvest": Question(
        "harvest:harvest",
        "Honey taken, its weight and moisture.",
        "fieldvoice harvest --since 2026-06-01",
    ),
    "traits": Question(
        "traits:traits",
        "Which hives are mean, swarmy or spotty, as it was said.",
        "fieldvoice traits",
    ),
    "colonies": Question(
        "colonies:colonies",
        "Colonies in each yard on a day, and moves.",
        "fieldvoice colonies --on 2026-10-01",
    ),
    "losses": Question(
        "colonies:losses",
        "Colonies that died since October, with the last word on each.",
        "fieldvoice losses",
    ),
    "lineage": Question(
        "colonies:lineage",
        "Where a hive came from and what became of it.",
        "fieldvoice lineage 7",
    ),
    "medicine": Question(
        "medicine:medicine",
        "The medicine record: product, batch, days, dose, hive, withdrawal, supplier.",
        "fieldvoice medicine --since 2026-01-01",
    ),
}


def answer(name: str, ask: Ask) -> Answer:
    """The answer to the question of that name."""
    module, _, function = QUESTIONS[name].where.partition(":")
    answers = importlib.import_module(f"fieldvoice.answers.{module}")
    return cast("Answer", getattr(answers, function)(ask))
