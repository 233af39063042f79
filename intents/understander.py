"""The door of this package: a message in, what it was taken to mean out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from intents import fitted
from intents.calibration import Calibration, calibration
from intents.emergencies import Alarm, alarm_in, is_calm, sounds_calm
from intents.engine import Engine, Ranked
from intents.language import detect
from intents.phrasebook import BUILT_IN, Phrase
from intents.prepare import spelt_out
from intents.slots.fill import fill
from intents.slots.fryers import Fryers
from intents.slots.read import Stated, read
from intents.topics import topics
from intents.types import Choice, Language, Slots, Understood

EMERGENCY_CONFIDENCE = 0.99
MOST_CHOICES = 3
WORTH_ASKING = 0.05
"""A topic less likely than this is no use in "did you mean"."""
NO_BRACES = str.maketrans("{}", "  ")
"""Braces are for placeholders in phrase files; in a message they mean nothing."""
EMERGENCY = "emergency."
LIKELY, CERTAIN = 0.5, 0.95
"""The share of emergencies in the ranking that raises one: of a plain message, and of one that sounds calm."""
RIGHT_NUMBER, WRONG_NUMBER, NO_NUMBER = 3.0, 0.05, 0.3
"""What a number of the topic's kind, of another kind, or none at all does to a topic about numbers."""
NOT_DONE = "outside.not_done"
SHORT_ANSWER = 4
"""Words of a bare answer to a question ("the falafel one please"); more is a message of its own."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """Why a message was taken as it was."""

    understood: Understood
    nearest: tuple[tuple[Phrase, str, float, float], ...]
    """The nearest phrase of each likely topic: phrase, topic, chance, cosine; best first."""
    repaired: tuple[tuple[str, str], ...]
    """Words as written and as repaired."""
    read_as: tuple[str, ...]
    """The words that were compared, placeholders in place."""
    alarm: Alarm | None
    """The emergency pattern that fired."""


@dataclass(frozen=True, slots=True)
class _Look:
    words: Sequence[str]
    repaired: Sequence[str]
    stated: Stated
    ranked: Sequence[Ranked]
    alarm: Alarm | None


@dataclass(frozen=True, slots=True)
class Understander:
    """Understands messages of one kitchen. Load it once; it holds no state that a message changes."""

    engine: Engine
    phrases: Sequence[Phrase]
    fryers: Fryers
    calibration: Calibration

    @classmethod
    def load(
        cls,
        phrase_folders: Sequence[Path] = (BUILT_IN,),
        fryers: Mapping[str, Sequence[str]] | None = None,
    ) -> Understander:
        """Ready to understand the phrases of ``phrase_folders`` and a kitchen's ``fryers`` (id -> names).

        Faulty lines of phrase files are left out; ``intents.phrasebook.read`` lists them. The fit is kept in the
        user's cache folder, so that only the first load after a change takes seconds.
        """
        engine, phrases = fitted.load(tuple(phrase_folders))
        return cls(engine, phrases, Fryers(dict(fryers or {})), calibration())

    def understand(self, text: str, *, language: Language | None = None) -> Understood:
        """What ``text`` was taken to mean. ``language`` is the person's setting, for messages that could be either."""
        return self._understood(text, self._look(text), language)

    def explain(self, text: str, *, language: Language | None = None) -> Explanation:
        """What ``text`` was taken to mean, and why."""
        look = self._look(text)
        return Explanation(
            understood=self._understood(text, look, language),
            nearest=tuple((self.phrases[one.nearest], one.label, one.chance, one.near) for one in look.ranked),
            repaired=tuple(
                (raw, mended) for raw, mended in zip(look.words, look.repaired, strict=True) if raw != mended
            ),
            read_as=tuple(look.stated.masked(look.repaired)),
            alarm=look.alarm,
        )

    def _look(self, text: str) -> _Look:
        words = spelt_out(text.translate(NO_BRACES))
        repaired = self.engine.repaired(words)
        stated = read(repaired, self.fryers)
        empty: Sequence[Ranked] = []
        found = self.engine.rank(stated.masked(words), stated.masked(repaired)) if words else empty
        ranked = _by_amounts(found, stated)
        alarm = alarm_in(words, repaired)
        if alarm is None:
            alarm, ranked = _weighed(ranked, repaired)
        return _Look(words, repaired, stated, ranked, alarm)

    def _understood(self, text: str, look: _Look, hint: Language | None) -> Understood:
        found = self._meant(text, look, hint)
        return replace(found, said_fryer=_said_fryer(look.stated), said_number=_said_number(look.stated))

    def _meant(self, text: str, look: _Look, hint: Language | None) -> Understood:
        nearest: Language = self.phrases[look.ranked[0].nearest].language if look.ranked else "en"
        language = detect(look.repaired, text, hint, nearest)
        if look.alarm:
            slots, _ = fill(look.stated, look.alarm.topic, text)
            choice = Choice(look.alarm.topic, EMERGENCY_CONFIDENCE)
            return Understood(text, look.alarm.topic, EMERGENCY_CONFIDENCE, language, slots, (), (choice,))
        if not look.ranked:
            return Understood(text, None, 1.0, language)
        confidences = self.calibration.confidences(look.ranked)
        inside = [
            Choice(one.label, round(confidence, 4))
            for one, confidence in zip(look.ranked, confidences, strict=True)
            if topics()[one.label].inside
        ]
        choices = tuple(choice for choice in inside if choice.confidence >= WORTH_ASKING)[:MOST_CHOICES]
        best = look.ranked[0]
        outside = not topics()[best.label].inside
        if outside or confidences[0] < self.calibration.accept:
            not_done = best.label == NOT_DONE
            slots, more = fill(look.stated, None, text, not_done=not_done)
            chance_of_none = confidences[0] if outside else 1 - confidences[0]
            return Understood(text, None, round(chance_of_none, 4), language, slots, more, choices)
        slots, more = fill(look.stated, best.label, text)
        return Understood(text, best.label, round(confidences[0], 4), language, slots, more, choices)


def _said_fryer(stated: Stated) -> str | None:
    """The fryer that a short answer names, a bare number among them; None in anything longer."""
    if len(stated.words) > SHORT_ANSWER:
        return None
    if stated.fryers:
        return stated.fryers[0].id
    number = _said_number(stated)
    return str(number) if number is not None and str(number) in stated.kitchen.names else None


def _said_number(stated: Stated) -> int | None:
    """The one whole number that a short answer gives."""
    digits = [word for word in stated.words if word.isdecimal()]
    if len(stated.words) > SHORT_ANSWER or len(digits) != 1 or len(digits[0]) > 2:
        return None
    return int(digits[0])


def _by_amounts(ranked: Sequence[Ranked], stated: Stated) -> Sequence[Ranked]:
    """The ranking after looking at the numbers: a topic about percentages is unlikely where only degrees are stated."""
    kinds = {amount.kind for amount in stated.amounts}
    factors = []
    for one in ranked:
        wanted = topics()[one.label].amount
        if wanted is None or (not kinds and wanted):
            factors.append(1.0 if wanted is None else NO_NUMBER)
        else:
            factors.append(RIGHT_NUMBER if wanted in kinds else 1.0 if "bare" in kinds else WRONG_NUMBER)
    total = sum(one.chance * factor for one, factor in zip(ranked, factors, strict=True)) or 1.0
    weighed = [replace(one, chance=one.chance * factor / total) for one, factor in zip(ranked, factors, strict=True)]
    return sorted(weighed, key=lambda one: (-one.chance, one.label))


def _weighed(ranked: Sequence[Ranked], words: Sequence[str]) -> tuple[Alarm | None, Sequence[Ranked]]:
    """Where no pattern fired: an alarm that the phrases raise, or the ranking without emergencies in a calm message."""
    urgent = [one for one in ranked if one.label.startswith(EMERGENCY)]
    if not urgent:
        return None, ranked
    calm = is_calm(words) or sounds_calm(words)
    needed = CERTAIN if calm else LIKELY
    if sum(one.chance for one in urgent) >= needed:
        return Alarm(urgent[0].label, "phrases"), ranked
    rest = [one for one in ranked if not one.label.startswith(EMERGENCY)]
    return None, rest if calm and rest else ranked


def public_slots(understood: Understood) -> dict[str, object]:
    """The slots of ``vatside understand``: those that the message's topic calls for, and only what is stated."""
    slots = understood.slots
    if understood.topic is None:
        wanted = topics()[NOT_DONE].slots if slots.not_done else frozenset[str]()
    else:
        wanted = topics()[understood.topic].slots
    stated: dict[str, object] = {
        "fryer": slots.fryer,
        "part": slots.part,
        "duty": slots.duty,
        "amount": None if slots.amount is None else _whole(slots.amount),
        "unit": slots.unit,
        "minutes": slots.minutes,
        "clock": slots.clock,
        "note": slots.note,
        "not_done": slots.not_done or None,
    }
    return {name: value for name, value in stated.items() if value is not None and name in wanted}


def _whole(amount: float) -> float | int:
    return int(amount) if amount == int(amount) else amount


__all__ = ["Explanation", "Slots", "Understander", "public_slots"]
