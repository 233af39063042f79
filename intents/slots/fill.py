"""From what a message states to the slots of its topic."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from intents.slots.amounts import Amount
from intents.slots.fryers import MASK, Named
from intents.slots.notes import note_text
from intents.slots.read import Stated
from intents.slots.times import Clock
from intents.topics import topics
from intents.types import Slots

_NOTE = "log.note"
_TRAINING = "train."
_FOOD_NAMES_FRYER = frozenset(
    (
        "log.done", "log.drops", "log.oil_test", "log.out_of_service", "log.back_in_service",
        "ask.last_done", "cooldown.start", "cooldown.status", "cooldown.cancel", "duty.skimmed",
    )
)  # fmt: skip
"""Where "the fries" can only be the fries' fryer. A guide or a fault may well be about the food."""


def fill(stated: Stated, topic: str | None, text: str, *, not_done: bool = False) -> tuple[Slots, tuple[Slots, ...]]:
    """The slots of a message on ``topic``, and one further set for each other thing it states at once."""
    clock, fryers = _clock_or_fryer(stated, topic)
    length = stated.lengths[0] if stated.lengths else None
    amount = _amount(stated.amounts, topic)
    first = Slots(
        fryer=None,
        part=stated.part,
        amount=amount.value if amount else None,
        unit=amount.unit if amount and amount.kind != "count" else None,
        minutes=length.minutes if length else None,
        clock=clock.text if clock else None,
        note=note_text(text, len(stated.words) - stated.note.start) if stated.note and topic == _NOTE else None,
        not_done=not_done,
        clock_is_vague=clock.vague if clock else False,
        days_ago=stated.days_ago,
        weekday=stated.weekday,
        period=stated.period,
        after_rush=stated.after_rush,
        tomorrow=stated.tomorrow,
        guide=stated.guide if topic and topic.startswith(_TRAINING) else None,
        ago=length.ago if length else False,
        future=stated.future,
        item=stated.item,
        all_fryers=stated.all_fryers is not None,
    )
    duties: Sequence[str | None] = stated.duties or (None,)
    named: Sequence[Named | None] = fryers or (None,)
    several = not_done or topic is None or "duty" in topics()[topic].slots
    sets = [
        replace(
            first,
            duty=duty,
            fryer=fryer.id if fryer else None,
            unknown_fryer=fryer.said or None if fryer and fryer.id is None else None,
        )
        for duty in (duties if several else duties[:1])
        for fryer in named
    ]
    return sets[0], tuple(sets[1:])


def _clock_or_fryer(stated: Stated, topic: str | None) -> tuple[Clock | None, list[Named]]:
    """The time and the fryers; "at 3" is a fryer where the topic has no times and no fryer is named otherwise."""
    fryers: list[Named] = []
    for one in stated.fryers:
        if one.id is None and not one.said:
            continue
        if all((one.id, one.said) != (other.id, other.said) for other in fryers):
            fryers.append(one)
    clock = stated.clocks[0] if stated.clocks else None
    if clock and clock.bare is not None and not fryers and (topic is None or "clock" not in topics()[topic].slots):
        meant = stated.fryer_of_clock(clock)
        if meant:
            return None, [meant]
    if not fryers and topic in _FOOD_NAMES_FRYER and stated.food_of and stated.all_fryers is None:
        return clock, [Named(0, 0, MASK, stated.food_of, stated.food_of)]
    return clock, fryers


def _amount(found: Sequence[Amount], topic: str | None) -> Amount | None:
    kind = topics()[topic].amount if topic else None
    if kind is None:
        return found[0] if found else None
    fitting = [amount for amount in found if amount.kind == kind]
    bare = [amount for amount in found if amount.kind == "bare"]
    best = fitting or bare
    return best[0] if best else None
