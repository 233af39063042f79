"""When the fresh-oil reservoir will be empty, from how long each of its jugs lasted.

What one jug gives is taken as 1. Each open day uses up a share of it, the busier weekdays a larger one; the shares
are fitted to the times between swaps, drawn towards one share for all days while there are few of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from math import hypot, sqrt
from typing import Literal

import numpy as np

from bot.core import open_days
from bot.core.calendar import ONE_DAY, calendar
from bot.core.pieces import done_at
from bot.core.records import Rules
from bot.core.robust_line import student_t
from bot.core.scene import Scene

SWAP = "reservoir_swap"
"""The duty that empties the stock of full jugs, and tells when one was empty."""

FEWEST_GAPS = 3
"""Jugs seen from swap to swap, below which no day is named."""

MOST_GAPS = 40
"""Older ones say little of now."""

DAILY = 0.25
"""Share by which one day's use differs from its weekday's (one standard deviation); common practice."""

FILLED = 0.03
"""Share by which jugs differ in what they hold; common practice."""

WORTH = 3
"""As many jugs' worth of weight have ``DAILY`` and ``FILLED`` against what the swaps themselves show; a choice."""

BUSIER = 0.3
"""Share by which weekdays usually differ from their mean (one standard deviation); common practice."""

SLOWEST = 0.2
"""Of the mean: no open weekday uses less."""

SURE = 0.935
"""Chance that the jug is not empty before the instant whose evening before the reminder takes; the step back to an
evening does the rest to 98 % (``tests/bench/bench_forecast.py``)."""

EVENING = timedelta(hours=1)
"""Before closing: when the crew is reminded of what the next day needs."""

FARTHEST = 400
"""Days ahead that are looked through."""


@dataclass(frozen=True, slots=True)
class Reservoir:
    """The likeliest instant at which the reservoir is empty, its 90 % interval, and when to remind of it."""

    swapped_at: datetime
    early: datetime
    likely: datetime
    late: datetime
    remind_at: datetime | None
    """An evening before it may be empty; None where it is likely to be empty before the first evening."""


@dataclass(frozen=True, slots=True)
class _Use:
    """Share of a jug that an open day of each weekday uses, and how much a jug differs from that."""

    by_weekday: tuple[float, ...]
    spread: float
    freedom: float
    jugs: int


def reservoir(scene: Scene) -> Reservoir | Literal["too_few"]:
    """When the reservoir will be empty, counted from its last swap; ``too_few`` while too few swaps are known."""
    found = scene.state.confirmations(SWAP, None)
    if len(found) <= FEWEST_GAPS:
        return "too_few"
    jug = _reservoir(scene.rules, tuple(done_at(entry.change) for entry in found[-MOST_GAPS - 1 :]))
    if isinstance(jug, Reservoir) and jug.remind_at is not None:
        # A swap that was only told of later can't have been reminded of before.
        return replace(jug, remind_at=max(jug.remind_at, found[-1].at))
    return jug


@lru_cache(maxsize=512)
def _reservoir(rules: Rules, swaps: tuple[datetime, ...]) -> Reservoir | Literal["too_few"]:
    use = _learn(rules, swaps)
    if use is None:
        return "too_few"
    wide = use.spread * sqrt(1 + 1 / use.jugs)
    ninety = student_t(0.95, use.freedom) * wide
    last = swaps[-1]
    sure = _empty_at(rules, use, last, 1 - student_t(SURE, use.freedom) * wide)
    likely = _empty_at(rules, use, last, 1)
    return Reservoir(
        last,
        _empty_at(rules, use, last, 1 - ninety),
        likely,
        _empty_at(rules, use, last, 1 + ninety),
        # Where no evening is quite early enough, one that probably is beats none.
        _evening_before(rules, last, sure) or _evening_before(rules, last, likely),
    )


def _learn(rules: Rules, swaps: tuple[datetime, ...]) -> _Use | None:
    days = calendar(rules)
    rows = []
    for since, until in pairwise(swaps):
        row = [0.0] * 7
        for day, share in open_days.shares(days, since, until):
            row[day.weekday()] += share
        if sum(row) > 0:
            rows.append(row)
    if len(rows) < FEWEST_GAPS:
        return None
    spent = np.array(rows)
    mean = len(rows) / spent.sum()
    # The longer a jug lasts, the more its days make up for each other.
    scatter = hypot(DAILY * sqrt(mean), FILLED)
    # Ridge regression: weekdays differ from the mean as BUSIER says, jugs from the sum of their days as ``scatter``.
    weights = spent.T @ spent / scatter**2 + np.eye(7) / (BUSIER * mean) ** 2
    inverse = np.linalg.inv(weights)
    left = 1 - spent @ np.full(7, mean)
    shares = np.maximum(mean + inverse @ spent.T @ left / scatter**2, SLOWEST * mean)
    # Each jug's miss as if it had not been learned from, or the fit would look better than it is.
    pull = np.einsum("ij,jk,ik->i", spent, inverse, spent) / scatter**2
    missed = (1 - spent @ shares) / np.maximum(1 - pull, 0.1)
    freedom = float(WORTH + len(rows))
    spread = sqrt((WORTH * scatter**2 + float(missed @ missed)) / freedom)
    return _Use(tuple(float(share) for share in shares), spread, freedom, len(rows))


def _empty_at(rules: Rules, use: _Use, since: datetime, jugs: float) -> datetime:
    """When ``jugs`` of a jug are used up; the end of the time looked through, where that is later."""
    days = calendar(rules)
    day = days.day_of(since)
    left = max(0.0, jugs)
    for _ in range(FARTHEST):
        if days.is_open(day):
            opens, closes = max(since, days.opening(day)), days.closing(day)
            whole = closes - days.opening(day)
            used = use.by_weekday[day.weekday()] * (max(timedelta(0), closes - opens) / whole)
            if left <= used:
                return opens + (left / use.by_weekday[day.weekday()]) * whole
            left -= used
        day += ONE_DAY
    return days.closing(day)


def _evening_before(rules: Rules, since: datetime, at: datetime) -> datetime | None:
    """The last evening of an open day between two instants; None where none lies between."""
    days = calendar(rules)
    day = days.day_of(at)
    while (evening := days.closing(day) - EVENING) > since:
        if days.is_open(day) and evening <= at:
            return evening
        day -= ONE_DAY
    return None
