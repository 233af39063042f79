"""From one kitchen day to the next: what was put off and not done is named in the next day's first message."""

from __future__ import annotations

from datetime import date, datetime

from bot.core import records as r, schedule
from bot.core.calendar import ONE_DAY
from bot.core.messages import CREW, Reply, Words
from bot.core.pieces import done_at
from bot.core.scene import Scene, grouped, name_words
from bot.core.state import HANDOVER


def when(scene: Scene) -> tuple[datetime, str] | None:
    """When the crew is to hear of it at the latest, and under which key; None where there is nothing to hear."""
    if not scene.state.handed:
        return None
    day = max(handed.day for handed in scene.state.handed.values())
    return scene.days.opening(scene.days.next_open(day + ONE_DAY)), f"{HANDOVER}{day}"


def at_day_end(scene: Scene, ended: date) -> tuple[r.HandedOver, ...]:
    """What was put off and is still open when a kitchen day ends. What is put off to a later day stays put off."""
    found = []
    end = scene.days.day_end(ended)
    for key, snooze in scene.state.snoozes.items():
        duty, _, fryer = key.partition("|")
        slot = schedule.slot(scene.rules, duty, fryer or None)
        daily = slot is not None and slot.duty.every.unit == "day"
        if daily or snooze.until < end:
            found.append(r.HandedOver(duty, fryer or None, ended, snooze.by))
    return tuple(found)


def reply(scene: Scene) -> Reply | None:
    """The message that names it; None where all of it was done meanwhile."""
    lines = []
    by_person: dict[str, list[tuple[str, str | None]]] = {}
    for handed in scene.state.handed.values():
        last = scene.state.last_confirmation(handed.duty, handed.fryer)
        if last is None or done_at(last.change) < scene.days.day_end(handed.day):
            by_person.setdefault(handed.by, []).append((handed.duty, handed.fryer))
    for by, slots in by_person.items():
        lines.append(Words("reminder.handover", {"what": grouped(slots), "by": name_words(scene, by)}))
    return Reply(CREW, "reminder", tuple(lines)) if lines else None
