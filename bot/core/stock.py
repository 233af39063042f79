"""What is left of each supply, how long it lasts, and by when to order."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil, floor

from bot.core import schedule
from bot.core.kitchen import Seals
from bot.core.library import DutyKind
from bot.core.pieces import done_at, slot_key
from bot.core.scene import Scene
from bot.core.schedule import Slot

SEALS = "seals_"
"""Seals are counted by colour: ``seals_black``."""

LOOK_BACK = timedelta(days=28)
"""How far back use is counted."""

SHORTEST_LOOK = timedelta(days=7)
"""A log younger than this says nothing about use: a week has busy days and quiet ones."""

ENOUGH_FOR = 28
"""Days for which an order should be enough; common practice."""

MONTH = 30.44
"""Days, on average."""


@dataclass(frozen=True, slots=True)
class Stock:
    """One supply. ``a_day`` is its use in pieces a calendar day; without use it lasts for ever."""

    item: str
    left: int
    a_day: float
    until: date | None
    order_by: date | None
    due: bool
    """Whether it is time to order."""
    enough: int
    """Pieces to order, so that the kitchen is above its reorder count for four weeks."""


def stocks(scene: Scene) -> list[Stock]:
    """Every supply of the kitchen file, in its order."""
    uses = list(_uses(scene))
    found = []
    for item, supply in scene.kitchen.supplies.items():
        shelf = next(iter(scene.state.shelves.get(item, [])[-1:]), None)
        done = shelf.done if shelf is not None else scene.state.times_done
        used = sum(pieces * done.get(key, 0) for key, name, pieces, _ in uses if name == item)
        left = max(0, (shelf.count if shelf is not None else supply.on_hand) - used)
        a_day = sum(
            pieces * max(_seen_a_day(scene, slot), _due_a_day(scene, slot))
            for _, name, pieces, slot in uses
            if name == item
        )
        until = scene.today + timedelta(days=min(floor(left / a_day), 3660)) if a_day > 0 else None
        order_by = until - timedelta(days=supply.lead_days) if until is not None else None
        due = left <= supply.reorder_at or (order_by is not None and order_by <= scene.today)
        enough = max(1, ceil(a_day * ENOUGH_FOR) + supply.reorder_at + 1 - left)
        # Seals are changed a set at a time.
        a_set = max((seals.count for seals in seals_of(scene, item)), default=1)
        enough = a_set * ceil(enough / a_set)
        found.append(Stock(item, left, a_day, until, order_by, due, enough))
    return found


def seals_of(scene: Scene, item: str) -> Mapping[Seals, tuple[str, ...]]:
    """The seals that are kept under that name, each with the ids of the fryers that it fits."""
    fits: dict[Seals, tuple[str, ...]] = {}
    for fryer in scene.kitchen.fryers:
        if fryer.seals is not None and f"{SEALS}{fryer.seals.colour}" == item:
            fits[fryer.seals] = (*fits.get(fryer.seals, ()), fryer.id)
    return fits


def _uses(scene: Scene) -> Iterator[tuple[str, str, int, Slot | tuple[str, str | None]]]:
    """Each duty on each fryer that uses up a supply: its key in the state, the supply, the pieces, and itself."""
    for kind in scene.library.duties.values():
        for fryer in (None, *(f.id for f in scene.kitchen.fryers)):
            name, pieces = _used_up(scene, kind, fryer)
            if name is not None:
                slot = schedule.slot(scene.rules, kind.id, fryer)
                yield slot_key(kind.id, fryer), name, pieces, slot if slot is not None else (kind.id, fryer)


def _used_up(scene: Scene, kind: DutyKind, fryer: str | None) -> tuple[str | None, int]:
    if kind.uses != "seals":
        return kind.uses, 1
    found = scene.kitchen.fryer(fryer) if fryer is not None else None
    if found is None or found.seals is None:
        return None, 0
    return f"{SEALS}{found.seals.colour}", found.seals.count


def _seen_a_day(scene: Scene, slot: Slot | tuple[str, str | None]) -> float:
    """How often it was done a day lately; 0 while the log is too young to say."""
    began = scene.state.log_began()
    if began is None or scene.now - began < SHORTEST_LOOK:
        return 0.0
    duty, fryer = (slot.duty.id, slot.fryer) if isinstance(slot, Slot) else slot
    since = max(began, scene.now - LOOK_BACK)
    times = sum(done_at(entry.change) >= since for entry in scene.state.confirmations(duty, fryer))
    return times / ((scene.now - since) / timedelta(days=1))


def _due_a_day(scene: Scene, slot: Slot | tuple[str, str | None]) -> float:
    """How often it falls due a day; 0 for what drops make due, and for what isn't scheduled."""
    if not isinstance(slot, Slot):
        return 0.0
    every = slot.duty.every
    match every.unit:
        case "day":
            return 1 - len(scene.rules.closed_days) / 7
        case "week":
            return 1 / 7
        case "month":
            return 1 / MONTH
        case "days":
            return 1 / every.count
        case _:
            return 0.0
