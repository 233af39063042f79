"""What words mean; and of the things that a recogniser may have heard, which is taken and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bot.content.danger_signs import DangerSigns
from intents.lexicon import LANGUAGES as READ
from intents.types import Language, Understood
from intents.understander import Understander

DOUBTED = 0.5
"""The most that words can be sure of where another hearing of them means something else, or they are not the first."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One thing that was perhaps said: what it means, and the dangerous act that it speaks of, if any."""

    understood: Understood
    danger: str | None = None


def read(text: str, theirs: Language | None, understander: Understander, signs: DangerSigns) -> Reading:
    """What a text means, from a person whose language is ``theirs``, if that is known."""
    # Half a surrogate pair is no character: it could be neither kept nor sent back.
    text = text.encode("utf-8", "replace").decode("utf-8")
    understood = understander.understand(text, language=theirs)
    if theirs is not None and theirs not in READ:
        # A language without a lexicon can't be told from others; the person's own it is.
        understood = replace(understood, language=theirs)
    return Reading(understood, signs.danger_in(text))


class Reader:
    """Reads texts, and still knows the last: a door asks whether a message is urgent, and then hands it over."""

    def __init__(self) -> None:
        self._asked: tuple[str, Language | None] | None = None
        self._by: tuple[Understander, DangerSigns] | None = None
        self._reading = Reading(Understood("", None, 1.0, "en"))

    def read(self, text: str, theirs: Language | None, understander: Understander, signs: DangerSigns) -> Reading:
        """As ``read``."""
        same = self._by is not None and self._by[0] is understander and self._by[1] is signs
        if not same or self._asked != (text, theirs):
            self._reading = read(text, theirs, understander, signs)
            self._asked, self._by = (text, theirs), (understander, signs)
        return self._reading


def best(readings: Sequence[Reading], confidence: float) -> tuple[Reading, float]:
    """The reading to go by, of one or more, likeliest first, and the chance that its words are right.

    An emergency in any of them is taken for one, and a danger in any of them is warned of. Else it is the first that
    can be understood. Where two of them would log different things, neither is sure.
    """
    urgent = next((r for r in readings if _topic(r).startswith("emergency.")), None)
    if urgent is not None:
        return urgent, confidence
    clear = [reading for reading in readings if _is_clear(reading)]
    chosen = clear[0] if clear else readings[0]
    danger = chosen.danger or next((r.danger for r in readings if r.danger is not None), None)
    doubted = chosen is not readings[0] or any(_differ(chosen, other) for other in clear)
    return Reading(chosen.understood, danger), min(confidence, DOUBTED) if doubted else confidence


def _topic(reading: Reading) -> str:
    return reading.understood.topic or ""


def _is_clear(reading: Reading) -> bool:
    meant = reading.understood
    answers = meant.said_fryer is not None or meant.said_number is not None
    return meant.topic is not None or meant.slots.not_done or answers


def _differ(one: Reading, other: Reading) -> bool:
    """Whether two hearings of the same words would do different things, one of them to the log."""
    if not any(_topic(r).startswith(("log.", "cooldown.")) for r in (one, other)):
        return _answer(one) != _answer(other)
    return _deed(one) != _deed(other)


def _deed(reading: Reading) -> tuple[object, ...]:
    meant = reading.understood
    return (meant.topic, meant.slots, meant.more)


def _answer(reading: Reading) -> tuple[object, ...]:
    """What it is as a short answer to a question: nothing for a whole message."""
    meant = reading.understood
    yes_no = meant.topic if meant.topic in ("talk.yes", "talk.no") else None
    return (yes_no, meant.said_fryer, meant.said_number)
