"""Everything that is to happen by itself, each with its time and with a key under which it is done only once."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Literal

from bot.core import cooldown, records as r, slot_items
from bot.core.agenda_items import Item, Stage, awake, held, held_at
from bot.core.calendar import ONE_DAY
from bot.core.pieces import Wait, slot_key
from bot.core.reservoir import SWAP, Reservoir, reservoir
from bot.core.scene import Scene
from bot.core.skills import aftermath, handover
from bot.core.touched import ALL_SLOTS

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


def items(scene: Scene) -> list[Item]:
    """Whatever is due or still to come, with at least the next one of each sort; nothing that was done already."""
    return _in_order(scene, [*slot_items.all_items(scene), *_others(scene)])


def due(scene: Scene) -> list[Item]:
    """Whatever is due by now, in order."""
    found = _in_order(scene, [*slot_items.due_items(scene), *_others(scene)])
    return [item for item in found if item.at <= scene.now]


def next_at(scene: Scene) -> datetime | None:
    """When something happens by itself next; None where nothing ever will."""
    until, paused = scene.state.held_until, scene.state.paused_until
    first = slot_items.soonest(scene)
    times = [held_at(scene.days, item.stage, item.at, until, paused) for item in _others(scene)]
    if first is not None:
        times.append(held_at(scene.days, "due", first, until, paused))
    return min(times, default=None)


def _in_order(scene: Scene, found: list[Item]) -> list[Item]:
    """These items at the times that an emergency leaves for them."""
    until, paused = scene.state.held_until, scene.state.paused_until
    there = (held(scene.days, item, until, paused) for item in found)
    return sorted(there, key=lambda item: (item.at, item.key))


def _others(scene: Scene) -> Iterator[Item]:
    """Whatever is not said yet and about no duty."""
    began = scene.state.log_began()
    if began is None:
        return
    told = scene.state.told
    for item in _day_items(scene, began):
        if item.key not in told:
            yield item
    for item in _passing(scene, began):
        if item.key not in told:
            yield awake(scene.days, item)


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
    for at, key, incident, reported in aftermath.follow_ups(scene):
        yield Item(at, "after", key, incident=incident, reported=reported)
    jug = _jug(scene)
    if isinstance(jug, Reservoir) and jug.remind_at is not None and jug.remind_at >= began:
        yield Item(jug.remind_at, "jug", f"jug|{jug.swapped_at:%Y%m%dT%H%M%S}")
    ending = scene.state.day_ended + ONE_DAY if scene.state.day_ended is not None else scene.days.day_of(began)
    yield Item(scene.days.day_end(ending), "day_end", f"day|{ending}", day=ending)


def _jug(scene: Scene) -> Reservoir | Literal["too_few"]:
    """The reservoir, which depends on its swaps and the rules alone."""
    if scene.memo is None:
        return reservoir(scene)
    ground = (scene.state.touched.get(slot_key(SWAP, None)), scene.state.touched.get(ALL_SLOTS))
    known = scene.memo.get("jug")
    if known is None or known[0] != ground:
        known = scene.memo["jug"] = (ground, reservoir(scene))
    found: Reservoir | Literal["too_few"] = known[1]
    return found


def _day_items(scene: Scene, began: datetime) -> list[Item]:
    """The summaries, which depend on the day and the rules alone."""
    if scene.memo is None:
        return [awake(scene.days, item) for item in _summaries(scene, began)]
    ground = (scene.today, scene.kitchen.summary_at, scene.state.touched.get(ALL_SLOTS))
    known = scene.memo.get("day")
    if known is None or known[0] != ground:
        known = scene.memo["day"] = (ground, [awake(scene.days, item) for item in _summaries(scene, began)])
    found: list[Item] = known[1]
    return found


def _summaries(scene: Scene, began: datetime) -> Iterator[Item]:
    for day in (scene.today - ONE_DAY, scene.today, scene.days.next_open(scene.today + ONE_DAY)):
        at = scene.days.at(day, scene.kitchen.summary_at)
        if scene.days.is_open(day) and at >= began:
            yield Item(at, "summary", f"summary|{day}", day=day)
    yield from _reports(scene, began)


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


def _wait_items(wait: Wait) -> Iterator[Item]:
    name = f"{wait.part}|{wait.fryer}|{int(wait.ends_at.timestamp())}"
    for minutes, at in cooldown.marks(wait):
        yield Item(at, "left", f"left|{name}|{minutes}", wait=wait, minutes=minutes)
    yield Item(wait.ends_at, "over", f"over|{name}", wait=wait)
