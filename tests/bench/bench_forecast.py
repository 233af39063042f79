"""How far the forecasts can be trusted: 200 simulated vats and 60 simulated reservoirs, seeds fixed.

    .venv/bin/python tests/bench/bench_forecast.py

Vats. Wear is a straight line in open days, by the end values of Food Chem. 2007 doi 10.1016/j.foodchem.2007.05.013
(6 h of frying a day): 3.16 to 5.36 points of total polar compounds a day, from 5 % fresh (from memory). The hard
panel wears so; the light one a third of that, as with 2 h of frying a day. Tests scatter by a normal error and are
rounded to half a point. A meter said to be right to +-2 points (from memory) has a standard deviation of 1; the
panels at 0.7 and 1.4 show what happens where that is not so. The peer is an ordinary least-squares line.

Reservoirs. Each open day uses its weekday's share of a jug, times a normal error of 20 % (common practice); jugs
differ by 3 %. A swap is logged when the jug is empty. The reminder counts where it comes before that.

Trend. Kitchens with a steady rate, and with one that falls: how often each is called worse than usual.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import fmean, linear_regression, median

from bot.core import open_days
from bot.core import records as r
from bot.core.calendar import ONE_DAY
from bot.core.forecast import Reach, oil_life
from bot.core.reservoir import FEWEST_GAPS, SWAP, Reservoir, reservoir
from bot.core.scene import Scene
from bot.core.trend import WINDOW, trend
from tests.core.daylog import Log
from tests.core.stage import LIBRARY, daily, kitchen, local

VATS = 200
FRESH, LIMIT = 5.0, 24.0
WEEKEND = (1.0, 0.8, 0.85, 0.95, 1.3, 1.4, 1.1)
"""Of the mean use, from Monday to Sunday."""


@dataclass
class Outcome:
    """What one vat's forecast was worth."""

    held: bool
    off: float
    peer_off: float
    open_ended: bool


def vat(rng: random.Random, share: float, scatter: float, tests: int, by_drops: bool) -> Outcome | None:
    """One vat with so many tests, spread over the first half of its life; None where no day was named."""
    wear = share * rng.uniform(3.16, 5.36)
    life = (LIMIT - FRESH) / wear
    start = local("2026-09-15 10:00")
    log = Log(kitchen(), start - 30 * ONE_DAY)
    days = log.days
    if by_drops:
        return _vat_by_drops(rng, log, wear, scatter, tests)
    spent = [life / 2 * (n + rng.uniform(0.3, 0.7)) / tests for n in range(tests)]
    points = []
    at = start
    for x in spent:
        found = open_days.after(days, start, x)
        assert found is not None
        at = found
        seen = round(2 * (FRESH + wear * x + rng.gauss(0, scatter))) / 2
        points.append((x, seen))
        log.add(at, r.ReadingTaken(log.entry(), "oil_test", "2", max(seen, 0.5), "percent", "ben"))
    return _judge(log, at, start, life, points)


def _vat_by_drops(rng: random.Random, log: Log, wear: float, scatter: float, tests: int) -> Outcome | None:
    """Wear follows the drops, which differ from day to day and by weekday; one test at each closing.

    Four weeks of the vat's drops are known beforehand.
    """
    day, total, life, points = date(2026, 9, 15), 0.0, None, []
    start, asked = log.days.opening(day), None
    for back in range(28, 0, -1):
        before = day - back * ONE_DAY
        if log.days.is_open(before):
            drops = max(20, round(100 * WEEKEND[before.weekday()] * rng.gauss(1, 0.2)))
            log.drops("2", drops, log.days.opening(before) + timedelta(hours=6))
    spent = 0.0
    while life is None:
        if log.days.is_open(day):
            drops = max(20, round(100 * WEEKEND[day.weekday()] * rng.gauss(1, 0.2)))
            if FRESH + wear * (total + drops) / 100 >= LIMIT:
                life = spent + ((LIMIT - FRESH) / wear * 100 - total) / drops
                break
            opens = log.days.opening(day)
            for n in range(1, 13):
                if len(points) < tests:
                    log.drops("2", drops * n // 12 - drops * (n - 1) // 12, opens + n * timedelta(minutes=59))
            total += drops
            spent += 1
            if len(points) < tests:
                seen = round(2 * (FRESH + wear * total / 100 + rng.gauss(0, scatter))) / 2
                asked = log.days.closing(day)
                log.add(asked, r.ReadingTaken(log.entry(), "oil_test", "2", max(seen, 0.5), "percent", "ben"))
                points.append((spent, seen))
        day += ONE_DAY
    if asked is None or len(points) < tests:
        return None
    return _judge(log, asked, start, life, points)


def _judge(log: Log, now: datetime, start: datetime, life: float, points: list[tuple[float, float]]) -> Outcome | None:
    reach = oil_life(Scene(log.kitchen, LIBRARY, log.state, now), "2").reach
    if not isinstance(reach, Reach):
        return None
    early, likely = (open_days.elapsed(log.days, start, at) for at in (reach.early, reach.likely))
    late = open_days.elapsed(log.days, start, reach.late) if reach.late is not None else float("inf")
    slope, level = linear_regression([x for x, _ in points], [y for _, y in points])
    peer = (LIMIT - level) / slope if slope > 0 else float("inf")
    return Outcome(early <= life <= late, abs(likely - life), abs(peer - life), reach.late is None)


def vats() -> None:
    print(f"oil: {VATS} vats a row, tests spread over the first half of the oil's life")
    head = ("tests", "scatter", "named", "90 % holds", "off, days", "peer", "open")
    print(f"{'panel':24} {head[0]:>5} {head[1]:>7} {head[2]:>6} {head[3]:>10} {head[4]:>9} {head[5]:>6} {head[6]:>5}")
    for name, share, by_drops in (
        ("hard, by days", 1.0, False),
        ("light, by days", 1 / 3, False),
        ("light, by drops", 1 / 3, True),
    ):
        for tests, scatter in ((3, 1.0), (5, 0.7), (5, 1.0), (5, 1.4), (8, 1.0)):
            rng = random.Random(20260915)
            found = [vat(rng, share, scatter, tests, by_drops) for _ in range(VATS)]
            named = [one for one in found if one is not None]
            print(
                f"{name:24} {tests:5} {scatter:7} {len(named):6} {fmean(one.held for one in named):10.1%}"
                f" {median(one.off for one in named):9.2f} {median(one.peer_off for one in named):6.2f}"
                f" {sum(one.open_ended for one in named):5}"
            )


def jugs(rng: random.Random, life: float, spread: float) -> Iterator[tuple[bool, float, bool]]:
    """Twenty jugs: reminded before it was empty, days early, and whether the 90 % interval held."""
    log = Log(kitchen(), local("2026-03-03 09:00"))
    day, left, swaps = date(2026, 3, 3), 1.0, 0
    log.done(SWAP, None, log.days.opening(day))
    while swaps < 20 + FEWEST_GAPS:
        if log.days.is_open(day):
            use = WEEKEND[day.weekday()] / life * max(0.2, rng.gauss(1, spread))
            gone = 0.0
            while use * (1 - gone) >= left:
                gone += left / use
                left = max(0.5, rng.gauss(1, 0.03))
                empty = log.days.opening(day) + gone * (log.days.closing(day) - log.days.opening(day))
                found = reservoir(Scene(log.kitchen, LIBRARY, log.state, empty))
                if isinstance(found, Reservoir):
                    at = found.remind_at if found.remind_at is not None else empty
                    yield at < empty, (empty - at) / ONE_DAY, found.early <= empty <= found.late
                log.done(SWAP, None, empty)
                swaps += 1
            left -= use * (1 - gone)
        day += ONE_DAY


def reservoirs() -> None:
    print("\nreservoir: 60 kitchens a row, 20 jugs each after the first three")
    print(f"{'a jug lasts':12} {'daily error':>11} {'reminded in time':>17} {'days early':>10} {'90 % holds':>10}")
    for life in (2.2, 4.0, 7.0):
        for spread in (0.1, 0.2, 0.3):
            rng = random.Random(4711)
            found = [one for _ in range(60) for one in jugs(rng, life, spread)]
            print(
                f"{life:9.1f} d  {spread:11.0%} {fmean(one[0] for one in found):17.1%}"
                f" {median(one[1] for one in found):10.2f} {fmean(one[2] for one in found):10.1%}"
            )


def trends() -> None:
    print("\ntrend: 100 kitchens a row, 8 duties a day, eight weeks; called worse or better at the end of the last day")
    duties = tuple(daily(f"duty_{n}", f"{12 + n}:00", None) for n in range(8))
    for before, after in ((0.9, 0.9), (0.97, 0.97), (0.9, 0.85), (0.9, 0.8), (0.9, 0.7), (0.8, 0.92)):
        shifts = []
        rng = random.Random(7)
        for _ in range(100):
            last = date(2026, 9, 13)
            log = Log(kitchen(*duties), local(f"{last - timedelta(days=2 * WINDOW - 1)} 00:30"))
            for back in range(2 * WINDOW - 1, -1, -1):
                day = last - timedelta(days=back)
                for duty in duties if log.days.is_open(day) else ():
                    assert duty.at is not None
                    due = log.days.at(day, duty.at)
                    late = rng.random() >= (before if back >= WINDOW else after)
                    log.done(duty.id, None, due + timedelta(minutes=45 if late else 0))
            shifts.append(trend(log.state, last, log.days.day_end(last)).shift)
        print(f"{before:.0%} -> {after:.0%}: worse {shifts.count('worse'):3} %, better {shifts.count('better'):3} %")


if __name__ == "__main__":
    vats()
    reservoirs()
    trends()
