"""One thing that is to happen by itself, and what of it waits for the kitchen to wake up or an emergency to end."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from bot.core import quiet_hours, records as r
from bot.core.calendar import Calendar
from bot.core.pieces import Snooze, Wait
from bot.core.schedule import Occurrence

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


REMINDING: frozenset[Stage] = frozenset({"handover", "due", "lead", "manager", "snooze", "jug", "digest"})
"""What waits while the operator has paused the reminders."""


class Item(Struct, frozen=True):
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
    reported: datetime | None = None
    """When ``incident`` was reported."""


def awake(days: Calendar, item: Item) -> Item:
    """The item at a time when the kitchen is awake, where it can wait until then."""
    if item.stage not in QUIET:
        return item
    at = quiet_hours.kept(days, item.at)
    return item if at == item.at else replace(item, at=at)


def held(days: Calendar, item: Item, until: datetime | None, paused: datetime | None = None) -> Item:
    """The item at the time that an emergency which is on ``until`` then leaves for it; None: there is none.

    A reminder also waits until the end of the operator's pause, ``paused``.
    """
    at = held_at(days, item.stage, item.at, until, paused)
    return item if at == item.at else replace(item, at=at)


def held_at(
    days: Calendar, stage: Stage, at: datetime, until: datetime | None, paused: datetime | None = None
) -> datetime:
    """As ``held``, of the time alone."""
    if paused is not None and at < paused and stage in REMINDING:
        at = quiet_hours.kept(days, paused)
    if until is None or at >= until or stage not in ROUTINE:
        return at
    return quiet_hours.kept(days, until) if stage in QUIET else until
