"""How far the forecasts can be trusted: 200 simulated vats and 60 simulated reservoirs a row, seeds fixed.

    .venv/bin/python -m tests.bench.bench_forecast [SEED]

Vats. Wear is a straight line in open days, by the end values of Food Chem. 2007 doi 10.1016/j.foodchem.2007.05.013
(6 h of frying a day): 3.16 to 5.36 points of total polar compounds a day, from 5 % fresh (from memory). The hard
panels wear so; the light ones a third of that, as with 2 h of frying a day. Tests scatter by a normal error and are
rounded to half a point. A meter said to be right to +-2 points (from memory) has a standard deviation of 1; the
rows at 0.7 and 1.4 show what happens where that is not so. Where earlier oils are in the log, the oils of a vat
differ; in the last panels the earlier ones wore half or twice as fast, which nobody told the helper. The peer is an
ordinary least-squares line through the tests of the present oil. Choices were made on other seeds than this one.

Reservoirs. Each open day uses its weekday's share of a jug, times a normal error (30 % is a noisy kitchen); jugs
differ by 3 %. A swap is logged when the jug is empty. The reminder counts where it comes before that.

Trend. Kitchens with a steady rate, and with one that falls: how often each is called worse than usual.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import fmean, linear_regression, median

from bot.core import open_days, records as r
from bot.core.calendar import ONE_DAY
from bot.core.forecast import Reach, oil_life
from bot.core.reservoir import FEWEST_GAPS, SWAP, Reservoir, reservoir
from bot.core.scene import Scene
from bot.core.trend import WINDOW, trend
from tests.core.daylog import Log
from tests.core.stage import LIBRARY, daily, kitchen, local

VATS = 200
FRESH, LIMIT = 5.0, 24.0
FRESH_DIFFERS, WEAR_DIFFERS = 0.7, 0.1
"""Standard deviations by which the oils of one vat start, in points, and wear, as a share; common practice."""

SEED = 20260915
WEEKEND = (1.0, 0.8, 0.85, 0.95, 1.3, 1.4, 1.1)
"""Of the mean use, from Monday to Sunday."""


@dataclass
class Outcome:
    """What one vat's forecast was worth."""

    held: bool
    off: float
    peer_off: float
    open_ended: bool


@dataclass(frozen=True)
class Panel:
    """Vats of one sort: ``share`` of the hard wear, and what the log holds besides the tests of the present oil.

    ``logged``: when it was filled in, and ``before`` oils before it, tested five times each, that wore ``then`` times
    as fast. Where it is not, each vat is one oil of exactly known start and wear, and nothing else is known.
    """

    name: str
    share: float
    by_drops: bool = False
    logged: bool = False
    before: int = 0
    then: float = 1.0


PANELS = (
    Panel("hard, by days", 1.0),
    Panel("light, by days", 1 / 3),
    Panel("light, by drops", 1 / 3, by_drops=True),
    Panel("light, by days, fill logged", 1 / 3, logged=True),
    Panel("light, by drops, fill logged", 1 / 3, by_drops=True, logged=True),
    Panel("hard, by days, 2 oils before", 1.0, logged=True, before=2),
    Panel("light, by days, 2 oils before", 1 / 3, logged=True, before=2),
    Panel("light, by drops, 2 before", 1 / 3, by_drops=True, logged=True, before=2),
    Panel("light, by days, 2 slower", 1 / 3, logged=True, before=2, then=0.5),
    Panel("light, by days, 2 faster", 1 / 3, logged=True, before=2, then=2.0),
)
CASES = ((3, 1.0), (5, 0.7), (5, 1.0), (5, 1.4), (8, 1.0))
"""Tests, and the standard deviation of one."""


def vat(rng: random.Random, panel: Panel, scatter: float, tests: int) -> Outcome | None:
    """One vat whose oil has had so many tests, spread over the first half of its life; None where no day was named.

    Where drops are counted, the tests come at the first closings; four weeks of drops are known beforehand.
    """
    wear = panel.share * rng.uniform(3.16, 5.36)
    log = Log(kitchen(), local("2026-05-01 10:00"))
    day = date(2026, 7, 1)
    if panel.by_drops:
        for back in range(28, 0, -1):
            before = day - back * ONE_DAY
            if log.days.is_open(before):
                log.drops("2", _drops(rng, before), log.days.opening(before) + timedelta(hours=6))
    oil = _oil_by_drops if panel.by_drops else _oil_by_days
    for _ in range(panel.before):
        ended = oil(rng, log, day, panel, panel.then * wear, scatter, None)
        day = log.days.next_open(log.days.day_of(ended.now) + ONE_DAY)
    found = oil(rng, log, log.days.next_open(day), panel, wear, scatter, tests)
    return _judge(log, found)


@dataclass(frozen=True)
class Oil:
    """One oil: when it was filled in, how many open days it lasts, its tests over those, and the last of them."""

    start: datetime
    life: float
    points: list[tuple[float, float]]
    now: datetime


def _oil_by_days(
    rng: random.Random, log: Log, day: date, panel: Panel, wear: float, scatter: float, tests: int | None
) -> Oil:
    """Wear follows the open days. Without a number of tests it is tested five times and used to its end."""
    start = log.days.opening(day)
    fresh, wear = _as_it_is(rng, log, start, panel, wear)
    life = (LIMIT - fresh) / wear
    reach, count = (life / 2, tests) if tests is not None else (life, 5)
    points = []
    at = start
    for n in range(count):
        x = reach * (n + rng.uniform(0.3, 0.7)) / count
        at = _after(log, start, x)
        points.append((x, _test(rng, log, at, fresh + wear * x, scatter)))
    return Oil(start, life, points, at if tests is not None else _after(log, start, life))


def _oil_by_drops(
    rng: random.Random, log: Log, day: date, panel: Panel, wear: float, scatter: float, tests: int | None
) -> Oil:
    """Wear follows the drops, which differ from day to day and by weekday; 100 are a day's on average."""
    start = log.days.opening(day)
    fresh, wear = _as_it_is(rng, log, start, panel, wear)
    usual_life = (LIMIT - fresh) / wear
    asked = set(range(1, tests + 1)) if tests is not None else {round(usual_life * n / 5.5) for n in range(1, 6)}
    total = spent = 0
    points: list[tuple[float, float]] = []
    now = start
    while True:
        if log.days.is_open(day):
            drops = _drops(rng, day)
            if fresh + wear * (total + drops) / 100 >= LIMIT:
                life = spent + ((LIMIT - fresh) / wear * 100 - total) / drops
                return Oil(start, life, points, now if tests is not None else log.days.closing(day))
            spent += 1
            logged = tests is None or len(points) < tests
            for n in range(1, 13) if logged else ():
                lot = drops * n // 12 - drops * (n - 1) // 12
                log.drops("2", lot, log.days.opening(day) + n * timedelta(minutes=59))
            total += drops
            if spent in asked:
                now = log.days.closing(day)
                points.append((spent, _test(rng, log, now, fresh + wear * total / 100, scatter)))
        day += ONE_DAY


def _as_it_is(rng: random.Random, log: Log, start: datetime, panel: Panel, wear: float) -> tuple[float, float]:
    """Where this oil starts and how it wears; where oils are told apart, each a little otherwise."""
    if not panel.logged:
        return FRESH, wear
    log.done("oil_change", "2", start)
    return rng.gauss(FRESH, FRESH_DIFFERS), wear * max(0.5, rng.gauss(1, WEAR_DIFFERS))


def _test(rng: random.Random, log: Log, at: datetime, percent: float, scatter: float) -> float:
    seen = max(0.5, round(2 * (percent + rng.gauss(0, scatter))) / 2)
    log.add(at, r.ReadingTaken(log.entry(), "oil_test", "2", seen, "percent", "ben"))
    return seen


def _drops(rng: random.Random, day: date) -> int:
    return max(20, round(100 * WEEKEND[day.weekday()] * rng.gauss(1, 0.2)))


def _after(log: Log, start: datetime, spent: float) -> datetime:
    found = open_days.after(log.days, start, spent)
    assert found is not None
    return found


def _judge(log: Log, oil: Oil) -> Outcome | None:
    reach = oil_life(Scene(log.kitchen, LIBRARY, log.state, oil.now), "2").reach
    if not isinstance(reach, Reach):
        return None
    early, likely = (open_days.elapsed(log.days, oil.start, at) for at in (reach.early, reach.likely))
    late = open_days.elapsed(log.days, oil.start, reach.late) if reach.late is not None else float("inf")
    slope, level = linear_regression([x for x, _ in oil.points], [y for _, y in oil.points])
    peer = (LIMIT - level) / slope if slope > 0 else float("inf")
    return Outcome(early <= oil.life <= late, abs(likely - oil.life), abs(peer - oil.life), reach.late is None)


def vats(seed: int = SEED) -> None:
    """How near the day that is named comes to the true one, beside a least-squares line."""
    print(f"oil: {VATS} vats a row, tests spread over the first half of the oil's life")
    head = ("tests", "scatter", "named", "90 % holds", "off, days", "peer", "open")
    print(f"{'panel':32} {head[0]:>5} {head[1]:>7} {head[2]:>6} {head[3]:>10} {head[4]:>9} {head[5]:>6} {head[6]:>5}")
    for panel in PANELS:
        for tests, scatter in CASES:
            rng = random.Random(seed)
            found = [vat(rng, panel, scatter, tests) for _ in range(VATS)]
            named = [one for one in found if one is not None]
            print(
                f"{panel.name:32} {tests:5} {scatter:7} {len(named):6} {fmean(one.held for one in named):10.1%}"
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
    vats(int(sys.argv[1]) if len(sys.argv) > 1 else SEED)
    reservoirs()
    trends()
