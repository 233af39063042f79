"""What the rest of a message says about a ranking: its numbers, a note, and whether an emergency is one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from intents.emergencies import Alarm, is_calm, sounds_calm
from intents.engine import Ranked
from intents.slots.amounts import Amount
from intents.slots.read import Stated
from intents.topics import topics

EMERGENCY = "emergency."
LIKELY, CERTAIN = 0.45, 0.95
"""The share of emergencies in the ranking that raises one: of a plain message, and of one that sounds calm."""
UNHEARD_OF, CLEARLY = 0.15, 0.65
"""An alarm that is not sure is dropped where the phrases give emergencies less than the first and one calm reading
(a guide, a question about the kitchen, or what is outside) more than the second."""
CALM_READINGS = ("guide.", "ask.", "outside.")
RIGHT_NUMBER, WRONG_NUMBER, NO_NUMBER = 3.0, 0.05, 0.3
"""What a number of the topic's kind, of another kind, or none at all does to a topic about numbers."""
WRONG_UNIT = 0.002
"""The same where the message says the other unit: degrees Fahrenheit are no percentage."""
A_NOTE = 3.0
"""What words that lead to a note, and a note after them, do to the topic of notes."""
NOTE = "log.note"
DONE, LAST_DONE = "log.done", "ask.last_done"


def by_what_is_stated(ranked: Sequence[Ranked], stated: Stated) -> Sequence[Ranked]:
    """The ranking after a look at the numbers and at a note."""
    factors = [
        _of_number(one.label, stated.amounts) * (A_NOTE if stated.note and one.label == NOTE else 1.0) for one in ranked
    ]
    total = sum(one.chance * factor for one, factor in zip(ranked, factors, strict=True)) or 1.0
    weighed = [replace(one, chance=one.chance * factor / total) for one, factor in zip(ranked, factors, strict=True)]
    return sorted(_as_asked(weighed) if stated.is_asked else weighed, key=lambda one: (-one.chance, one.label))


def _as_asked(ranked: Sequence[Ranked]) -> Sequence[Ranked]:
    """ "Pad changed on 2?" asks what "pad changed on 2" reports: the two topics change places where a report leads."""
    chances = {one.label: one.chance for one in ranked}
    if chances.get(DONE, 0.0) <= chances.get(LAST_DONE, 0.0):
        return ranked
    swapped = {DONE: LAST_DONE, LAST_DONE: DONE}
    return [replace(one, label=swapped.get(one.label, one.label)) for one in ranked]


def _of_number(label: str, amounts: Sequence[Amount]) -> float:
    wanted = topics()[label].amount
    if wanted is None:
        return 1.0
    kinds = {amount.kind for amount in amounts}
    if not kinds:
        return NO_NUMBER
    if wanted in kinds:
        return RIGHT_NUMBER
    if any(amount.unit for amount in amounts):
        return WRONG_UNIT
    return 1.0 if "bare" in kinds else WRONG_NUMBER


def share_of_emergencies(ranked: Sequence[Ranked]) -> float:
    """What all emergencies together have of the ranking."""
    return sum(one.chance for one in ranked if one.label.startswith(EMERGENCY))


def calm(words: Sequence[str]) -> bool:
    """Whether the words are a calm question, or use an emergency's word for something harmless."""
    return is_calm(words) or sounds_calm(words)


def overruled(ranked: Sequence[Ranked]) -> bool:
    """Whether the phrases are so sure of a calm reading that a doubtful alarm is none."""
    best = ranked[0] if ranked else None
    return (
        best is not None
        and share_of_emergencies(ranked) < UNHEARD_OF
        and best.chance > CLEARLY
        and best.label.startswith(CALM_READINGS)
    )


def raised_by_phrases(ranked: Sequence[Ranked], words: Sequence[str]) -> tuple[Alarm | None, Sequence[Ranked]]:
    """Where no pattern fired: an alarm that the phrases raise, or the ranking without emergencies in a calm message."""
    urgent = [one for one in ranked if one.label.startswith(EMERGENCY)]
    if not urgent:
        return None, ranked
    is_quiet = calm(words)
    if share_of_emergencies(ranked) >= (CERTAIN if is_quiet else LIKELY):
        return Alarm(urgent[0].label, "phrases"), ranked
    rest = [one for one in ranked if not one.label.startswith(EMERGENCY)]
    return None, rest if is_quiet and rest else ranked
