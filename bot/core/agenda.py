"""Everything that is to happen by itself, each with its time and with a key under which it is done only once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Literal

from bot.core import cooldown, schedule
from bot.core import records as r
from bot.core.calendar import ONE_DAY
from bot.core.reservoir import Reservoir, reservoir
from bot.core.scene import Scene
from bot.core.schedule import Occurrence, Slot
from bot.core.skills import emergencies, reminders
from bot.core.state import Snooze, Wait, done_at

Stage = Literal[
    "due", "lead", "manager", "snooze", "left", "over", "summary", "week", "month", "jug", "digest", "day_end", "after"
]  # fmt: skip

ROUTINE: frozenset[Stage] = frozenset(
    {"due", "lead", "manager", "snooze", "left", "over", "summary", "week", "month", "jug", "digest"}
)
"""What waits while an emergency is on. The end of a cool-down too: nobody is called back to a fryer to reset it."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to happen at ``at``; ``about`` is what it is about, by stage."""

    at: datetime
    stage: Stage
    key: str
    occurrence: Occurrence | None = None
    wait: Wait | None = None
    minutes: int = 0
    day: date | None = None
    snooze: tuple[str, str | None, Snooze] | None = None
    incident: r.IncidentReported | None = None


def items(scene: Scene) -> list[Item]:
    """Whatever is due or still to come, with at least the next one of each sort; nothing that was done already."""
    held = scene.state.held_until
    found = []
    for item in _all(scene):
        if item.key in scene.state.told:
            continue
        if held is not None and item.stage in ROUTINE and item.at < held:
            item = _moved(item, held)
        found.append(item)
    return sorted(found, key=lambda item: (item.at, item.key))


def next_at(scene: Scene) -> datetime | None:
    """When something happens by itself next; None where nothing ever will."""
    return min((item.at for item in items(scene)), default=None)


def _moved(item: Item, at: datetime) -> Item:
    return replace(item, at=at)


def _all(scene: Scene) -> Iterator[Item]:
    began = scene.state.log_began()
    if began is None:
        return
    for slot in schedule.slots(scene.rules):
        for occurrence in _occurrences(scene, slot):
            for item in _stages(scene, occurrence):
                if item.at >= began:
                    yield item
    for key, snooze in scene.state.snoozes.items():
        duty, _, fryer = key.partition("|")
        yield Item(
            snooze.until,
            "snooze",
            f"snooze|{key}|{snooze.until:%Y%m%dT%H%M%S}",
            snooze=(duty, fryer or None, snooze),
        )
    for wait in scene.state.waits.values():
        if wait.ended is None:
            yield from _wait_items(wait)
    for at, key, incident in emergencies.follow_ups(scene):
        yield Item(at, "after", key, incident=incident)
    for day in (scene.today - ONE_DAY, scene.today, scene.days.next_open(scene.today + ONE_DAY)):
        at = scene.days.at(day, scene.kitchen.summary_at)
        if scene.days.is_open(day) and at >= began:
            yield Item(at, "summary", f"summary|{day}", day=day)
    yield from _reports(scene, began)
    jug = reservoir(scene)
    if isinstance(jug, Reservoir) and jug.remind_at is not None and jug.remind_at >= began:
        yield Item(jug.remind_at, "jug", f"jug|{jug.swapped_at:%Y%m%dT%H%M%S}")
    ending = scene.state.day_ended + ONE_DAY if scene.state.day_ended is not None else scene.days.day_of(began)
    yield Item(scene.days.day_end(ending), "day_end", f"day|{ending}", day=ending)


def _reports(scene: Scene, began: datetime) -> Iterator[Item]:
    """The summaries of weeks, at the first opening of the next, and of months; ``day`` is that next one's first."""
    monday = scene.today - timedelta(days=scene.today.weekday())
    for first in (monday, monday + timedelta(days=7)):
        yield from _report(scene, began, "week", first)
        yield from _report(scene, began, "digest", first)
    month = scene.today.replace(day=1)
    for first in (month, (month + timedelta(days=31)).replace(day=1)):
        yield from _report(scene, began, "month", first)


def _report(scene: Scene, began: datetime, stage: Stage, first: date) -> Iterator[Item]:
    if began < scene.days.day_start(first):
        at = scene.days.opening(scene.days.next_open(first))
        yield Item(at, stage, f"{stage}|{first}", day=first)


def _occurrences(scene: Scene, slot: Slot) -> Iterator[Occurrence]:
    """The occurrences of a slot that may still call for a message: not done, not excused."""
    if slot.duty.every.unit != "day":
        last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
        found = schedule.pending(scene.state, slot, scene.rules, last, scene.now)
        if found is not None:
            yield found
        return
    for day in (scene.today - ONE_DAY, scene.today, scene.days.next_open(scene.today + ONE_DAY)):
        found = schedule.daily_occurrence(scene.state, slot, day)
        if found is None or schedule.excused(scene.state, found):
            continue
        start, end = scene.days.day_start(day), scene.days.day_end(day)
        confirmed = scene.state.confirmations(slot.duty.id, slot.fryer)
        if not any(start <= done_at(entry.change) < end for entry in confirmed):
            yield found


def _stages(scene: Scene, occurrence: Occurrence) -> Iterator[Item]:
    yesterday = occurrence.slot.duty.every.unit == "day" and occurrence.day < scene.today
    if not yesterday:
        for at in (occurrence.due_at, *schedule.repeats(scene.state, occurrence, scene.now)):
            yield Item(at, "due", reminders.told_key(occurrence, at), occurrence=occurrence)
    yield Item(occurrence.late_at, "lead", occurrence.lead_key, occurrence=occurrence)
    yield Item(occurrence.escalates_at, "manager", occurrence.manager_key, occurrence=occurrence)


def _wait_items(wait: Wait) -> Iterator[Item]:
    name = f"{wait.part}|{wait.fryer}|{int(wait.ends_at.timestamp())}"
    for minutes, at in cooldown.marks(wait):
        yield Item(at, "left", f"left|{name}|{minutes}", wait=wait, minutes=minutes)
    yield Item(wait.ends_at, "over", f"over|{name}", wait=wait)
