"""How long the oil of a vat still lasts: a straight line through its tests since the last oil change.

Total polar compounds grow in a straight line with frying time (J. Food Drug Anal. 2013 21(1):58; over 20 h at
170-190 °C also J. Am. Oil Chem. Soc. 2016, doi 10.1007/s11746-016-2872-z). So the line runs over open days, or
over the drops where those are counted between all tests. What the vat's earlier oils tell counts beside the tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import hypot, inf
from typing import Literal

from bot.core import open_days, records as r
from bot.core.calendar import ONE_DAY
from bot.core.drop_pace import days_until, pace
from bot.core.oil_fills import Fill, fills
from bot.core.oil_history import Course, Lore, lore
from bot.core.robust_line import Crossing, crossing, theil_sen
from bot.core.scene import Scene

WATCH_PERCENT = 14.0
"""From about here on food suffers before the law is touched: Foods 2023 12(2):316, doi 10.3390/foods12020316."""

FEWEST = 3
"""Tests below which no day is named: two points always lie on a line."""

SHORTEST = 0.25
"""Open days that the tests must span; tests of one hour say nothing of a week."""

NINETY = 1.645
"""Standard deviations to either side that hold 90 % of a normal distribution."""

FARTHEST = 60.0
"""Open days; a bound beyond it is as good as none."""

Advice = Literal["keep", "test_tomorrow", "change_tonight"]
WhyNot = Literal["no_limit", "too_few", "no_growth"]


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
    *earlier, fill = fills(scene, fryer, just_taken)
    limit = scene.kitchen.polar_limit_percent
    found = _reach(scene, fryer, fill, earlier, limit)
    if isinstance(found, Reach):
        return OilLife(fill, limit, _advice(scene, fill, limit, found), found)
    return OilLife(fill, limit, _advice(scene, fill, limit, None), None, found)


def cost_a_day(scene: Scene, fryer: str, life: OilLife) -> float | None:
    """What the oil of one vat costs an open day, in the currency of its price; None where anything is unknown."""
    vat = scene.kitchen.fryer(fryer)
    price = scene.kitchen.oil_price_per_litre
    if vat is None or vat.oil_litres is None or price is None or life.reach is None or life.fill.since is None:
        return None
    days = open_days.elapsed(scene.days, life.fill.since, life.reach.likely)
    return price * vat.oil_litres / days if days > 0 else None


def _reach(scene: Scene, fryer: str, fill: Fill, earlier: Sequence[Fill], limit: float | None) -> Reach | WhyNot:
    if limit is None:
        return "no_limit"
    if len(fill.readings) < FEWEST:
        return "too_few"
    by_days = _over_days(scene, fill)
    if by_days.points[-1][0] < SHORTEST:
        return "too_few"
    per_day = theil_sen(by_days.points).slope
    by_drops = _over_drops(scene, fryer, fill)
    if by_drops is not None:
        told = [course for past in earlier if (course := _over_drops(scene, fryer, past)) is not None]
        ahead = _days_from_drops(scene, fryer, fill, by_drops, lore(told), limit)
    else:
        told = [_over_days(scene, past) for past in earlier if past.readings]
        found = _crossing(by_days, lore(told), limit)
        now = open_days.elapsed(scene.days, fill.readings[0].at, scene.now)
        ahead = Crossing(found.early - now, found.likely - now, found.late - now) if found is not None else None
    if ahead is None or per_day <= 0:
        return "no_growth"
    return _as_instants(scene, ahead, per_day)


def _crossing(course: Course, known: Lore, limit: float) -> Crossing | None:
    return crossing(course.points, limit, known.scatter, known.worth, known=known.of(course.fresh_at))


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


def _over_days(scene: Scene, fill: Fill) -> Course:
    """The tests over the open days since the first of them."""
    first = fill.readings[0].at
    points = tuple((open_days.elapsed(scene.days, first, reading.at), reading.percent) for reading in fill.readings)
    return Course(points, -open_days.elapsed(scene.days, fill.since, first) if fill.since is not None else None)


def _over_drops(scene: Scene, fryer: str, fill: Fill) -> Course | None:
    """The tests over the drops cooked since the first; None unless drops were counted between all of them."""
    if not fill.readings:
        return None
    first = fill.readings[0].at
    counted = scene.state.drops_after([fryer], fill.since if fill.since is not None else first)
    total = -sum(_amount(entry.change) for entry in counted if entry.at <= first)
    fresh_at = float(total)
    points: list[tuple[float, float]] = []
    place = 0
    for reading in fill.readings:
        while place < len(counted) and counted[place].at <= reading.at:
            total += _amount(counted[place].change)
            place += 1
        if points and total <= points[-1][0]:
            return None
        points.append((float(total), reading.percent))
    return Course(tuple(points), fresh_at if fill.since is not None else None)


def _days_from_drops(
    scene: Scene, fryer: str, fill: Fill, course: Course, known: Lore, limit: float
) -> Crossing | None:
    """The limit over drops, turned into open days from now by the drops of a day, whose own spread comes on top."""
    found = _crossing(course, known, limit)
    if found is None:
        return None
    first = fill.readings[0].at
    counted = sum(_amount(entry.change) for entry in scene.state.drops_after([fryer], first))
    expected = pace(scene, fryer, counted / open_days.elapsed(scene.days, first, scene.now))
    early, likely = (days_until(scene, expected, drops - counted) for drops in (found.early, found.likely))
    late = days_until(scene, expected, found.late - counted) if found.late < inf else inf
    more = NINETY * expected.share_of_error(max(likely, 0.0))
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
