"""Whether the kitchen does worse or better than usual, said only where a control chart signals it.

Rates of single days swing by chance, so nothing is said of one bad figure. The EWMA chart (NIST/SEMATECH e-Handbook
of Statistical Methods, section 6.3.2.4) watches for a lasting shift, the p-chart (6.3.3.2) for one day that stands
out. What is usual is the rate of the four weeks before the four that are watched.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import sqrt
from statistics import median
from typing import Any, Literal

from bot.core.calendar import ONE_DAY
from bot.core.compliance import DayReport, Tally, count_day, tally
from bot.core.pieces import done_at
from bot.core.state import State

WINDOW = 28
"""Days that are watched, and as many before them for what is usual."""

WEIGHT, WIDTH = 0.2, 2.7
"""Of the newest day, and of the limits in standard deviations: the handbook names 0.2 to 0.3 and about 3 as usual
choices; 2.7 goes with small weights."""

FEWEST_DAYS = 10
"""Days with a figure, below which nothing is called usual; common practice."""

Shift = Literal["worse", "better"]


@dataclass(frozen=True, slots=True)
class Trend:
    """The watched four weeks beside the four before. ``shift`` is None where nothing signals.

    ``late_by`` is the median lateness of what was done late in the watched weeks, None where nothing was.
    """

    usual: Tally
    recent: Tally
    shift: Shift | None
    late_by: timedelta | None
    by_weekday: tuple[Tally, ...]


def p_chart_limits(share: float, trials: float, width: float = 3.0) -> tuple[float, float]:
    """The control limits of a share seen in so many trials (NIST/SEMATECH 6.3.3.2), kept within 0 and 1."""
    half = width * sqrt(share * (1 - share) / trials)
    return max(0.0, share - half), min(1.0, share + half)


def ewma(values: Sequence[float], start: float, weight: float) -> list[float]:
    """The exponentially weighted moving average after each value (NIST/SEMATECH 6.3.2.4)."""
    averages = []
    at = start
    for value in values:
        at = weight * value + (1 - weight) * at
        averages.append(at)
    return averages


def ewma_limits(
    mean: float, deviation: float, weight: float, width: float, number: int | None = None
) -> tuple[float, float]:
    """The limits of the average after ``number`` values; the steady ones, which they approach, without it."""
    ageing = 1.0 if number is None else 1 - (1 - weight) ** (2 * number)
    half = width * deviation * sqrt(weight / (2 - weight) * ageing)
    return mean - half, mean + half


def trend(state: State, day: date, as_of: datetime, memo: dict[Any, Any] | None = None) -> Trend:
    """The four weeks that end with kitchen day ``day``; ``state`` must hold the log of eight.

    ``memo`` may hold days that were judged before.
    """
    before = list(_reports(state, day - WINDOW * ONE_DAY, as_of, memo))
    watched = list(_reports(state, day, as_of, memo))
    usual = _sum(before)
    weekdays = tuple(_sum([report for report in watched if report.day.weekday() == n]) for n in range(7))
    return Trend(usual, _sum(watched), _shift(before, watched), late_by(watched), weekdays)


def stands_out(usual: Tally, one_day: Tally) -> bool:
    """Whether one day was worse than chance explains, by the p-chart of what is usual."""
    if not usual.judged or not one_day.judged:
        return False
    low, _ = p_chart_limits(_careful(usual), one_day.judged)
    return one_day.on_time / one_day.judged < low


def late_by(reports: Sequence[DayReport]) -> timedelta | None:
    """The median lateness of what was done late, counted from its due time; None where nothing was."""
    late = [
        (done_at(judged.done.change) - judged.occurrence.due_at).total_seconds()
        for report in reports
        for judged in report.judged
        if judged.verdict == "late" and judged.done is not None
    ]
    return timedelta(seconds=median(late)) if late else None


def _shift(before: Sequence[DayReport], watched: Sequence[DayReport]) -> Shift | None:
    usual = _sum(before)
    days = [report.total for report in watched if report.total.judged]
    if sum(report.total.judged > 0 for report in before) < FEWEST_DAYS or not days:
        return None
    share = _careful(usual)
    # Days differ in how much is due, so each is taken in its own standard deviations.
    scores = [(day.on_time - day.judged * share) / sqrt(day.judged * share * (1 - share)) for day in days]
    # What is usual is itself only known from so many duties: its error adds to the limits.
    deviation = sqrt(1 + WEIGHTED_DAYS * _mean([day.judged for day in days]) / usual.judged)
    low, high = ewma_limits(0.0, deviation, WEIGHT, WIDTH, len(scores))
    now = ewma(scores, 0.0, WEIGHT)[-1]
    if now < low:
        return "worse"
    return "better" if now > high else None


WEIGHTED_DAYS = (2 - WEIGHT) / WEIGHT
"""Days that weigh as much as the average of that weight does: 9."""


def _careful(usual: Tally) -> float:
    """The usual rate, drawn a little to the middle: A. Agresti and B. Coull, Am. Stat. 52 (1998) 119-126.

    After four weeks without a slip the limits would otherwise have no width.
    """
    return (usual.on_time + 2) / (usual.judged + 4)


def _reports(state: State, last: date, as_of: datetime, memo: dict[Any, Any] | None) -> Iterator[DayReport]:
    for back in range(WINDOW - 1, -1, -1):
        report = count_day(state, last - back * ONE_DAY, as_of, memo)
        if report is not None and not report.closed:
            yield report


def _sum(reports: Sequence[DayReport]) -> Tally:
    return tally(tuple(judged for report in reports for judged in report.judged))


def _mean(values: Sequence[int]) -> float:
    return sum(values) / len(values)
