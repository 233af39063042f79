"""How long the oil of a vat still lasts: a straight line through its tests since the last oil change.

Total polar compounds grow in a straight line with frying time (J. Food Drug Anal. 2013 21(1):58; over 20 h at
170-190 °C also J. Am. Oil Chem. Soc. 2016, doi 10.1007/s11746-016-2872-z). So the line runs over open days, or
over the drops where those are counted between all tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import hypot, inf
from typing import Literal

from bot.core import open_days
from bot.core import records as r
from bot.core.calendar import ONE_DAY
from bot.core.drop_pace import days_until, pace
from bot.core.robust_line import Crossing, crossing, theil_sen
from bot.core.scene import Scene
from bot.core.state import done_at

WATCH_PERCENT = 14.0
"""From about here on food suffers before the law is touched: Foods 2023 12(2):316, doi 10.3390/foods12020316."""

SCATTER = 1.0
"""Standard deviation of one test about the line, in points: a meter said to be right to ±2 points (from memory)."""

WORTH = 3
"""As many tests' worth of weight has ``SCATTER`` against what the tests themselves show; a choice, kept because
with it the 90 % intervals of ``tests/bench/bench_forecast.py`` hold."""

FEWEST = 3
"""Tests below which no day is named: two points always lie on a line."""

SHORTEST = 0.25
"""Open days that the tests must span; tests of one hour say nothing of a week."""

NINETY = 1.645
"""Standard deviations to either side that hold 90 % of a normal distribution."""

FARTHEST = 60.0
"""Open days; a bound beyond it is as good as none."""

FALL = 6.0
"""Points. A test this much lower than the one before, and below half of it, is of other oil: four standard
deviations of a difference, and more than topping up or filtering does (20 % of the value, LWT 2018 97:45-52)."""

Advice = Literal["keep", "test_tomorrow", "change_tonight"]
WhyNot = Literal["no_limit", "too_few", "no_growth"]


@dataclass(frozen=True, slots=True)
class Reading:
    """An oil test, in percent of polar compounds."""

    at: datetime
    percent: float


@dataclass(frozen=True, slots=True)
class Fill:
    """The oil that is in a vat: its tests, oldest first, and when it was filled in, if that was logged.

    ``fell_from`` is the last test of the oil before, where only the fall tells that it was changed.
    """

    since: datetime | None
    readings: tuple[Reading, ...]
    fell_from: Reading | None = None


@dataclass(frozen=True, slots=True)
class Reach:
    """When the limit is reached: the likeliest instant, and a 90 % interval; ``late`` None has no end.

    ``per_day`` is the growth in points an open day.
    """

    early: datetime
    likely: datetime
    late: datetime | None
    per_day: float


@dataclass(frozen=True, slots=True)
class OilLife:
    """What the tests of one vat say. Without ``reach``, ``why_not`` says why no day can be named."""

    fill: Fill
    limit: float | None
    advice: Advice
    reach: Reach | None = None
    why_not: WhyNot | None = None


def oil_life(scene: Scene, fryer: str, just_taken: float | None = None) -> OilLife:
    """How long the oil of one fryer lasts, with a test that is just being logged, if there is one."""
    fill = current_fill(scene, fryer, just_taken)
    limit = scene.kitchen.polar_limit_percent
    found = _reach(scene, fryer, fill, limit)
    if isinstance(found, Reach):
        return OilLife(fill, limit, _advice(scene, fill, limit, found), found)
    return OilLife(fill, limit, _advice(scene, fill, limit, None), None, found)


def current_fill(scene: Scene, fryer: str, just_taken: float | None = None) -> Fill:
    """The tests of the oil that is in the vat now."""
    changed = scene.state.last_confirmation("oil_change", fryer)
    since = done_at(changed.change) if changed is not None else None
    readings = [
        Reading(entry.at, entry.change.value)
        for entry in scene.state.log
        if isinstance(entry.change, r.ReadingTaken)
        and entry.change.what == "oil_test"
        and entry.change.fryer == fryer
        and not entry.undone
        and (since is None or entry.at > since)
    ]
    if just_taken is not None:
        readings.append(Reading(scene.now, just_taken))
    fell_from = None
    for place in range(len(readings) - 1, 0, -1):
        before, here = readings[place - 1], readings[place]
        if before.percent - here.percent >= FALL and here.percent < before.percent / 2:
            readings, fell_from, since = readings[place:], before, None
            break
    return Fill(since, tuple(readings), fell_from)


def cost_a_day(scene: Scene, fryer: str, life: OilLife) -> float | None:
    """What the oil of one vat costs an open day, in the currency of its price; None where anything is unknown."""
    vat = scene.kitchen.fryer(fryer)
    price = scene.kitchen.oil_price_per_litre
    if vat is None or vat.oil_litres is None or price is None or life.reach is None or life.fill.since is None:
        return None
    days = open_days.elapsed(scene.days, life.fill.since, life.reach.likely)
    return price * vat.oil_litres / days if days > 0 else None


def _reach(scene: Scene, fryer: str, fill: Fill, limit: float | None) -> Reach | WhyNot:
    if limit is None:
        return "no_limit"
    if len(fill.readings) < FEWEST:
        return "too_few"
    first = fill.readings[0].at
    spent = [open_days.elapsed(scene.days, first, reading.at) for reading in fill.readings]
    if spent[-1] < SHORTEST:
        return "too_few"
    by_days = list(zip(spent, (reading.percent for reading in fill.readings), strict=True))
    per_day = theil_sen(by_days).slope
    by_drops = _over_drops(scene, fryer, fill)
    now = open_days.elapsed(scene.days, first, scene.now)
    if by_drops is not None:
        ahead = _days_from_drops(scene, fryer, fill, by_drops, limit)
    else:
        found = crossing(by_days, limit, SCATTER, WORTH)
        ahead = Crossing(found.early - now, found.likely - now, found.late - now) if found is not None else None
    if ahead is None or per_day <= 0:
        return "no_growth"
    return _as_instants(scene, ahead, per_day)


def _as_instants(scene: Scene, ahead: Crossing, per_day: float) -> Reach | WhyNot:
    """``ahead`` is in open days from now; what has passed already is now."""
    likely = _instant(scene, ahead.likely)
    if likely is None:
        return "no_growth"
    early = _instant(scene, ahead.early) or scene.now
    late = _instant(scene, ahead.late) if ahead.late <= FARTHEST else None
    return Reach(early, likely, late, per_day)


def _instant(scene: Scene, ahead: float) -> datetime | None:
    if ahead == inf:
        return None
    return open_days.after(scene.days, scene.now, ahead) if ahead > 0 else scene.now


def _over_drops(scene: Scene, fryer: str, fill: Fill) -> list[tuple[float, float]] | None:
    """The tests over the drops cooked up to each; None unless drops were counted between all of them."""
    counted = scene.state.drops_after([fryer], fill.readings[0].at)
    points: list[tuple[float, float]] = []
    place = total = 0
    for reading in fill.readings:
        while place < len(counted) and counted[place].at <= reading.at:
            total += _amount(counted[place].change)
            place += 1
        if points and total <= points[-1][0]:
            return None
        points.append((float(total), reading.percent))
    return points


def _days_from_drops(
    scene: Scene, fryer: str, fill: Fill, points: Sequence[tuple[float, float]], limit: float
) -> Crossing | None:
    """The limit over drops, turned into open days from now by the drops of a day, whose own spread comes on top."""
    found = crossing(points, limit, SCATTER, WORTH)
    if found is None:
        return None
    first = fill.readings[0].at
    counted = sum(_amount(entry.change) for entry in scene.state.drops_after([fryer], first))
    known = pace(scene, fryer, counted / open_days.elapsed(scene.days, first, scene.now))
    early, likely = (days_until(scene, known, drops - counted) for drops in (found.early, found.likely))
    late = days_until(scene, known, found.late - counted) if found.late < inf else inf
    more = NINETY * known.share_of_error(max(likely, 0.0))
    return Crossing(likely - hypot(likely - early, more), likely, likely + hypot(late - likely, more))


def _advice(scene: Scene, fill: Fill, limit: float | None, reach: Reach | None) -> Advice:
    """Tonight the oil can be changed; what is kept must last through the next open day."""
    if not fill.readings:
        return "keep"
    last = fill.readings[-1].percent
    lasts_to = scene.days.closing(scene.days.next_open(scene.today + ONE_DAY))
    if limit is not None and last >= limit:
        return "change_tonight"
    if reach is not None and reach.likely <= lasts_to:
        return "change_tonight"
    if last >= WATCH_PERCENT or (reach is not None and reach.early <= lasts_to):
        return "test_tomorrow"
    return "keep"


def _amount(change: r.Change) -> int:
    return change.amount if isinstance(change, r.DropsCounted) else 0
