"""What the content files offer, without their words: the shape of guides, duties, emergencies and faults."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct

from bot.core.diagnosis import FaultShape
from bot.core.kitchen import Power
from bot.core.records import IncidentKind
from intents.types import Language, Part


class StepShape(Struct, frozen=True):
    """One step: the kind of fryer it is for (None: any), and which parts of it there are words for."""

    power: Power | None = None
    picture: str | None = None
    see: bool = False
    if_not: bool = False
    cool: bool = False
    """Whether the oil must be cool before anybody goes past it."""


class GuideShape(Struct, frozen=True):
    """One guide: what it asks of the person, and how many cautions, pieces of gear and steps it has."""

    topic: str
    kind: Literal["walk", "answer"] = "walk"
    hot_oil: bool = False
    risk: Literal["normal", "high"] = "normal"
    by_power: bool = False
    logs: str | None = None
    resets: Part | None = None
    not_when: int = 0
    gear: int = 0
    cautions: int = 0
    takes: bool = False
    steps: tuple[StepShape, ...] = ()
    answers: tuple[int, ...] = ()
    """The right option (from 1) of each question of its knowledge check."""

    def steps_for(self, power: Power | None) -> tuple[int, ...]:
        """The numbers (from 1) of the steps that a fryer of that power needs; all where it isn't known."""
        return tuple(
            number
            for number, step in enumerate(self.steps, 1)
            if step.power is None or power is None or step.power == power
        )


class DutyKind(Struct, frozen=True):
    """What a duty of that kind is: per fryer or once for the kitchen, its guide, and the supply it uses up."""

    id: str
    per_fryer: bool = True
    guide: str | None = None
    uses: str | None = None


class EmergencyShape(Struct, frozen=True):
    """How many lines are said at once, and how many a quarter of an hour later."""

    lines: int
    after: int


class DangerShape(Struct, frozen=True):
    """A dangerous act: the topics that say how the same is done safely, to be offered beside the warning."""

    offers: tuple[str, ...] = ()


class Library(Struct, frozen=True):
    """Everything there is to answer with."""

    guides: Mapping[str, GuideShape]
    duties: Mapping[str, DutyKind]
    emergencies: Mapping[IncidentKind, EmergencyShape]
    faults: Mapping[str, FaultShape] = {}
    dangers: Mapping[str, DangerShape] = {}
    languages: tuple[Language, ...] = ()
    """The languages that there are words in, English first."""
