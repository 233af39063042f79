"""The duties of the days ahead, as far as they can be told beforehand."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from bot.core import schedule
from bot.core.calendar import ONE_DAY
from bot.core.scene import Scene
from bot.core.schedule import Occurrence, Slot


def coming(scene: Scene, days: int) -> list[Occurrence]:
    """What falls due from now on within ``days`` days, soonest first.

    A duty that comes round by weeks, months or days is taken to be done each time on its day; what is overdue now is
    left out, and its next turn counts from today. What drops make due can't be told.
    """
    until = scene.now + timedelta(days=days)
    found = [
        occurrence
        for slot in schedule.slots(scene.rules)
        for occurrence in (_daily(scene, slot, days) if slot.duty.every.unit == "day" else _standing(scene, slot, days))
        if scene.now <= occurrence.due_at < until
    ]
    return sorted(found, key=lambda occurrence: (occurrence.due_at, occurrence.key))


def _daily(scene: Scene, slot: Slot, days: int) -> Iterator[Occurrence]:
    for ahead in range(days + 1):
        occurrence = schedule.daily_occurrence(scene.state, slot, scene.today + ahead * ONE_DAY)
        if occurrence is not None:
            yield occurrence


def _standing(scene: Scene, slot: Slot, days: int) -> Iterator[Occurrence]:
    last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
    found = schedule.pending(scene.state, slot, scene.rules, last, scene.now)
    if found is None or slot.duty.every.unit == "drops":
        return
    day = found.day
    if found.due_at < scene.now:
        day = scene.today
    else:
        yield found
    while day <= scene.today + days * ONE_DAY:
        day = scene.days.next_open(schedule.nominal_day(slot.duty, day))
        at = scene.days.at(day, slot.duty.at) if slot.duty.at is not None else scene.days.opening(day)
        yield Occurrence(slot, day, at)
