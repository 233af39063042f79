"""How many basket drops a fryer will cook on the days ahead, by those of the last weeks on each weekday."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from math import sqrt
from statistics import fmean

from bot.core.calendar import ONE_DAY
from bot.core.records import DropsCounted
from bot.core.scene import Scene

LOOK_BACK = 28
"""Days: four of each weekday."""

FEWEST = 5
"""Whole days with drops, below which weekdays are not told apart nor their spread known."""

USUAL_SPREAD = 0.2
"""Share by which a day's drops differ from what its weekday expects, where too few are known; common practice."""

FARTHEST = 366
"""Days ahead that are looked through."""


@dataclass(frozen=True, slots=True)
class Pace:
    """Drops expected of an open day of each weekday, Monday first; ``spread`` is the share by which a day differs."""

    by_weekday: tuple[float, ...]
    spread: float
    days: int

    def share_of_error(self, days: float) -> float:
        """Standard deviation of the drops of so many days ahead, as open days: each differs, and so may the mean."""
        return self.spread * sqrt(days + days * days / max(1, self.days))


def pace(scene: Scene, fryer: str, since_first: float) -> Pace:
    """The pace of one fryer; ``since_first`` is that of the present oil, in drops an open day, for a young log."""
    totals = _whole_days(scene, fryer)
    if len(totals) < FEWEST:
        return Pace((since_first,) * 7, USUAL_SPREAD, len(totals))
    mean = fmean(totals.values())
    weekdays = []
    for n in range(7):
        known = [total for day, total in totals.items() if day.weekday() == n]
        # As if one mean day more were known: a single one is no rule.
        weekdays.append((sum(known) + mean) / (len(known) + 1))
    off = [(total - weekdays[day.weekday()]) / mean for day, total in totals.items()]
    spread = sqrt(sum(x * x for x in off) / max(1, len(off) - 1))
    return Pace(tuple(weekdays), max(spread, USUAL_SPREAD / 2), len(totals))


def days_until(scene: Scene, pace: Pace, drops: float) -> float:
    """Open days from now until so many more drops are cooked; negative where they were cooked before now."""
    mean = fmean(pace.by_weekday)
    if drops <= 0:
        return drops / mean
    passed, day = 0.0, scene.today
    for _ in range(FARTHEST):
        if scene.days.is_open(day):
            share = 1.0
            if day == scene.today:
                opens, closes = scene.days.opening(day), scene.days.closing(day)
                share = max(timedelta(0), closes - max(opens, scene.now)) / (closes - opens)
            expected = pace.by_weekday[day.weekday()] * share
            if drops <= expected:
                return passed + share * drops / expected
            drops -= expected
            passed += share
        day += ONE_DAY
    return passed + drops / mean


def _whole_days(scene: Scene, fryer: str) -> dict[date, int]:
    """The drops of each open day of the last weeks on which any were counted, today left out."""
    totals: dict[date, int] = {}
    since = scene.days.day_start(scene.today - LOOK_BACK * ONE_DAY)
    for entry in scene.state.drops_after([fryer], since):
        day = scene.days.day_of(entry.at)
        if day < scene.today and scene.days.is_open(day) and isinstance(entry.change, DropsCounted):
            totals[day] = totals.get(day, 0) + entry.change.amount
    return totals
