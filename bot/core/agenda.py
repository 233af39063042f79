"""Everything that is to happen by itself, each with its time and with a key under which it is done only once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any, Literal

from bot.core import cooldown, quiet_hours, schedule
from bot.core import records as r
from bot.core.calendar import ONE_DAY
from bot.core.pieces import Snooze, Wait
from bot.core.reservoir import Reservoir, reservoir
from bot.core.scene import Scene
from bot.core.schedule import Occurrence, Slot
from bot.core.skills import emergencies, handover, reminders
from bot.core.state import ALL_SLOTS, DROPS, KEEP, slot_key

Stage = Literal[
    "handover", "due", "lead", "manager", "snooze", "left", "over", "summary", "week", "month", "jug", "digest",
    "day_end", "after",
]  # fmt: skip

QUIET: frozenset[Stage] = frozenset(
    {"handover", "due", "lead", "manager", "snooze", "summary", "week", "month", "jug", "digest"}
)
"""What waits for the kitchen's waking hours. The end of a wait that somebody started does not."""

ROUTINE: frozenset[Stage] = QUIET | {"left", "over"}
"""What waits while an emergency is on. The end of a cool-down too: nobody is called back to a fryer to reset it."""


TIMELESS = (
    r.Asked,
    r.Delivered,
    r.DeliveryFailed,
    r.FaultAsked,
    r.FryerMentioned,
    r.LanguageChosen,
    r.QuestionUnanswered,
    r.Reminded,
    r.Settled,
    r.WalkEnded,
    r.WalkMoved,
)
"""Changes after which whatever is to happen by itself still happens at the same time."""


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
    return sorted(_ahead(scene), key=lambda item: (item.at, item.key))


def due(scene: Scene) -> list[Item]:
    """Whatever is due by now, in order."""
    now = scene.now
    return sorted((i for i in _ahead(scene) if i.at <= now), key=lambda item: (item.at, item.key))


def next_at(scene: Scene) -> datetime | None:
    """When something happens by itself next; None where nothing ever will."""
    return min((item.at for item in _ahead(scene)), default=None)


def _ahead(scene: Scene) -> Iterator[Item]:
    """Whatever is not done yet, at the times that the kitchen's sleep and an emergency leave for it."""
    told, held = scene.state.told, scene.state.held_until
    for item in _all(scene):
        if item.key in told:
            continue
        if held is not None and item.stage in ROUTINE and item.at < held:
            yield replace(item, at=quiet_hours.kept(scene.days, held) if item.stage in QUIET else held)
        else:
            yield item


def _all(scene: Scene) -> Iterator[Item]:
    began = scene.state.log_began()
    if began is None:
        return
    yield from _slots_items(scene, began)
    yield from _day_items(scene, began)
    for item in _passing(scene, began):
        yield _awake(scene, item)


def _awake(scene: Scene, item: Item) -> Item:
    """The item at a time when the kitchen is awake, where it can wait until then."""
    if item.stage not in QUIET:
        return item
    at = quiet_hours.kept(scene.days, item.at)
    return item if at == item.at else replace(item, at=at)


def _passing(scene: Scene, began: datetime) -> Iterator[Item]:
    """What came up in the course of the day, and the end of the day itself."""
    for key, snooze in scene.state.snoozes.items():
        duty, _, fryer = key.partition("|")
        yield Item(
            snooze.until,
            "snooze",
            f"snooze|{key}|{snooze.until:%Y%m%dT%H%M%S}",
            snooze=(duty, fryer or None, snooze),
        )
    left_over = handover.when(scene)
    if left_over is not None:
        yield Item(left_over[0], "handover", left_over[1])
    for wait in scene.state.waits.values():
        if wait.ended is None:
            yield from _wait_items(wait)
    for at, key, incident in emergencies.follow_ups(scene):
        yield Item(at, "after", key, incident=incident)
    jug = reservoir(scene)
    if isinstance(jug, Reservoir) and jug.remind_at is not None and jug.remind_at >= began:
        yield Item(jug.remind_at, "jug", f"jug|{jug.swapped_at:%Y%m%dT%H%M%S}")
    ending = scene.state.day_ended + ONE_DAY if scene.state.day_ended is not None else scene.days.day_of(began)
    yield Item(scene.days.day_end(ending), "day_end", f"day|{ending}", day=ending)


def _day_items(scene: Scene, began: datetime) -> list[Item]:
    """The summaries, which depend on the day and the rules alone."""
    if scene.memo is None:
        return [_awake(scene, item) for item in _summaries(scene, began)]
    ground = (scene.today, scene.kitchen.summary_at, scene.state.touched.get(ALL_SLOTS))
    known = scene.memo.get("day")
    if known is None or known[0] != ground:
        known = scene.memo["day"] = (ground, [_awake(scene, item) for item in _summaries(scene, began)])
    found: list[Item] = known[1]
    return found


def _summaries(scene: Scene, began: datetime) -> Iterator[Item]:
    for day in (scene.today - ONE_DAY, scene.today, scene.days.next_open(scene.today + ONE_DAY)):
        at = scene.days.at(day, scene.kitchen.summary_at)
        if scene.days.is_open(day) and at >= began:
            yield Item(at, "summary", f"summary|{day}", day=day)
    yield from _reports(scene, began)


@dataclass(slots=True)
class _Worked:
    """The items of one slot as they were worked out once, and for how long and on what ground they hold."""

    ground: tuple[object, ...]
    until: datetime | None
    items: list[Item]


def _slots_items(scene: Scene, began: datetime) -> Iterator[Item]:
    """The items of every slot; each from the memo where nothing that they depend on has changed.

    Those of a daily duty hold for the kitchen day; any other's until the next of its own times.
    """
    if scene.memo is None:
        for slot in schedule.slots(scene.rules):
            yield from (_awake(scene, item) for item in _worked(scene, slot, began))
        return
    touched, today, now = scene.state.touched, scene.today, scene.now
    for_all, by_drops = touched.get(ALL_SLOTS), touched.get(DROPS)
    for slot, name in _named_slots(scene, scene.memo):
        daily = slot.duty.every.unit == "day"
        ground = (slot, today, for_all, touched.get(name), by_drops if slot.duty.every.unit == "drops" else None)
        known: _Worked | None = scene.memo.get(name)
        if known is None or known.ground != ground or (known.until is not None and now >= known.until):
            found = _worked(scene, slot, began)
            until = None if daily else min((i.at for i in found if i.at > now), default=None)
            ahead = [_awake(scene, i) for i in found if i.key not in scene.state.told]
            known = scene.memo[name] = _Worked(ground, until, ahead)
        yield from known.items


def _named_slots(scene: Scene, memo: dict[Any, Any]) -> tuple[tuple[Slot, str], ...]:
    """Every slot with its name in the state."""
    rules = scene.rules
    known = memo.get("slots")
    if known is None or known[0] is not rules:
        named = tuple((slot, slot_key(slot.duty.id, slot.fryer)) for slot in schedule.slots(rules))
        known = memo["slots"] = (rules, named)
    found: tuple[tuple[Slot, str], ...] = known[1]
    return found


def _worked(scene: Scene, slot: Slot, began: datetime) -> list[Item]:
    recent = max(began, scene.now - KEEP + ONE_DAY)
    return [i for o in _occurrences(scene, slot) for i in _stages(scene, o) if i.at >= recent]


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
    for day in (_open_day_before(scene), scene.today, scene.days.next_open(scene.today + ONE_DAY)):
        found = schedule.daily_occurrence(scene.state, slot, day)
        if found is None or schedule.excused(scene.state, found):
            continue
        start, end = scene.days.day_start(day), scene.days.day_end(day)
        if not scene.state.done_between(slot.duty.id, slot.fryer, start, end):
            yield found


def _open_day_before(scene: Scene) -> date:
    """The last open day before today, whose escalations may still wait for the morning; a week back at most."""
    days = (scene.today - n * ONE_DAY for n in range(1, 8))
    return next((day for day in days if scene.days.is_open(day)), scene.today - ONE_DAY)


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
