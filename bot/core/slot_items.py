"""What each duty on each fryer calls for, kept between two looks, so that a look costs what has changed since.

A look after a turn works out anew only the slots that the turn touched; the soonest of all the others is known
from a heap. Once a kitchen day, and when the rules change, all of them are worked out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from heapq import heappop, heappush
from itertools import count
from typing import Any

from bot.core import schedule
from bot.core.agenda_items import Item, awake
from bot.core.calendar import ONE_DAY
from bot.core.pieces import slot_key
from bot.core.records import Rules
from bot.core.scene import Scene
from bot.core.schedule import Occurrence, Slot, lead_key, manager_key
from bot.core.skills.reminders import told_key
from bot.core.state import KEEP, State
from bot.core.touched import ALL_SLOTS, DROPS, OF_FRYER, touched_since


def soonest(scene: Scene) -> datetime | None:
    """The time of the first item of any slot that isn't said yet."""
    return _slots_of(scene).soonest(scene)


def due_items(scene: Scene) -> list[Item]:
    """The items of all slots that are due by now and not said yet, in no order."""
    return _slots_of(scene).due(scene)


def all_items(scene: Scene) -> Iterator[Item]:
    """The items of all slots that are not said yet, with at least the next one of each."""
    for known in _slots_of(scene).fresh(scene):
        yield from (item for item in known.items if item.key not in scene.state.told)


def open_occurrences(scene: Scene) -> list[Occurrence]:
    """What a confirmation given now would close, in the order in which it falls due."""
    found = (known.open for known in _slots_of(scene).fresh(scene))
    return sorted((o for o in found if o is not None), key=lambda o: o.due_at)


@dataclass(slots=True)
class _Known:
    """One slot as it was worked out last; ``until`` is when it must be again, by itself, or None.

    ``entry`` is the number of its entry in the heap: any other entry of it there is out of date.
    """

    slot: Slot
    items: tuple[Item, ...] = ()
    until: datetime | None = None
    open: Occurrence | None = None
    entry: int = 0


@dataclass(slots=True)
class _Slots:
    """Every slot of one kitchen, by name, and the soonest item of each in a heap."""

    ground: tuple[object, ...]
    rules: Rules
    seen: int = 0
    known: dict[str, _Known] = field(default_factory=dict)
    timed: list[_Known] = field(default_factory=list)
    """Those that must be worked out again in the course of a day."""
    by_drops: list[_Known] = field(default_factory=list)
    heap: list[tuple[datetime, int, _Known]] = field(default_factory=list)
    numbers: Iterator[int] = field(default_factory=lambda: count(1))

    def soonest(self, scene: Scene) -> datetime | None:
        while self.heap:
            at, entry, known = self.heap[0]
            if entry == known.entry and not _over(known, scene.now) and at == _first(known, scene.state):
                return at
            heappop(self.heap)
            if entry == known.entry:
                self._again(scene, known)
        return None

    def due(self, scene: Scene) -> list[Item]:
        ready: list[_Known] = []
        while self.heap and self.heap[0][0] <= scene.now:
            _, entry, known = heappop(self.heap)
            if entry == known.entry:
                if _over(known, scene.now):
                    _work_out(scene, known)
                ready.append(known)
        for known in ready:
            self._push(known, scene.state)
        told = scene.state.told
        return [item for known in ready for item in known.items if item.at <= scene.now and item.key not in told]

    def fresh(self, scene: Scene) -> Iterable[_Known]:
        for known in self.timed:
            if _over(known, scene.now):
                self._again(scene, known)
        return self.known.values()

    def renew(self, scene: Scene) -> None:
        """Work out everything."""
        for slot in schedule.slots(self.rules):
            known = self.known[slot_key(slot.duty.id, slot.fryer)] = _Known(slot)
            self._again(scene, known)
            if slot.duty.every.unit != "day":
                self.timed.append(known)
            if slot.duty.every.unit == "drops":
                self.by_drops.append(known)
        self.seen = scene.state.seq

    def catch_up(self, scene: Scene) -> None:
        """Work out what was touched since the last look; the state has the latest touched last."""
        for name in touched_since(scene.state.touched, self.seen):
            if name in self.known:
                self._again(scene, self.known[name])
            elif name == DROPS:
                for known in self.by_drops:
                    self._again(scene, known)
            elif name.startswith(OF_FRYER):
                fryer = name.removeprefix(OF_FRYER)
                for known in self.known.values():
                    if known.slot.fryer == fryer:
                        self._again(scene, known)
        self.seen = scene.state.seq

    def _again(self, scene: Scene, known: _Known) -> None:
        _work_out(scene, known)
        self._push(known, scene.state)

    def _push(self, known: _Known, state: State) -> None:
        known.entry = next(self.numbers)
        first = _first(known, state)
        if first is not None:
            heappush(self.heap, (first, known.entry, known))


def _slots_of(scene: Scene) -> _Slots:
    """The slots as they stand now: those of the memo, brought up to date, or new ones."""
    memo: dict[Any, Any] = scene.memo if scene.memo is not None else {}
    ground = (scene.today, scene.state.touched.get(ALL_SLOTS))
    slots: _Slots | None = memo.get("slots")
    if slots is None or slots.ground != ground or slots.rules is not scene.rules:
        slots = memo["slots"] = _Slots(ground, scene.rules)
        slots.renew(scene)
    elif slots.seen != scene.state.seq:
        slots.catch_up(scene)
    return slots


def _over(known: _Known, now: datetime) -> bool:
    return known.until is not None and known.until <= now


def _first(known: _Known, state: State) -> datetime | None:
    return min((item.at for item in known.items if item.key not in state.told), default=None)


def _work_out(scene: Scene, known: _Known) -> None:
    """The items of a slot. Those of a daily duty hold for the kitchen day; any other's until the next of them."""
    began = scene.state.log_began()
    if began is None:
        return
    recent = max(began, scene.now - KEEP + ONE_DAY)
    today = scene.today
    daily = known.slot.duty.every.unit == "day"
    occurrences = list(_daily(scene, known.slot, today) if daily else _standing(scene, known.slot))
    found = [i for o in occurrences for i in _stages(scene, o, earlier=daily and o.day < today) if i.at >= recent]
    known.items = tuple(awake(scene.days, i) for i in found if i.key not in scene.state.told)
    known.until = None if daily else min((i.at for i in found if i.at > scene.now), default=None)
    known.open = next((o for o in occurrences if o.day == today or (not daily and o.day < today)), None)


def _standing(scene: Scene, slot: Slot) -> Iterator[Occurrence]:
    """The occurrence of a duty that stays open until it is done."""
    last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
    found = schedule.pending(scene.state, slot, scene.rules, last, scene.now)
    if found is not None:
        yield found


def _daily(scene: Scene, slot: Slot, today: date) -> Iterator[Occurrence]:
    """The occurrences of a daily duty that may still call for a message: not done, not excused.

    Those of the days to come can wait until today has ended, which is an item of its own.
    """
    for day in (_open_day_before(scene), today):
        start, end = scene.days.day_start(day), scene.days.day_end(day)
        if scene.state.done_between(slot.duty.id, slot.fryer, start, end):
            continue
        found = schedule.daily_occurrence(scene.state, slot, day)
        if found is not None and not schedule.excused(scene.state, found):
            yield found


def _open_day_before(scene: Scene) -> date:
    """The last open day before today, whose escalations may still wait for the morning; a week back at most."""
    days = (scene.today - n * ONE_DAY for n in range(1, 8))
    return next((day for day in days if scene.days.is_open(day)), scene.today - ONE_DAY)


def _stages(scene: Scene, occurrence: Occurrence, earlier: bool) -> Iterator[Item]:
    """What one occurrence calls for; of a daily duty on an ``earlier`` day only that leads and managers hear of it."""
    key = occurrence.key
    if not earlier:
        for at in (occurrence.due_at, *schedule.repeats(scene.state, occurrence, scene.now)):
            yield Item(at, "due", told_key(key, at), occurrence)
    yield Item(occurrence.late_at, "lead", lead_key(key), occurrence)
    yield Item(occurrence.escalates_at, "manager", manager_key(key), occurrence)
