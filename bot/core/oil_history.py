"""What a vat's earlier oils tell of the one in it: how fast it wears, where fresh oil starts, how much tests scatter.

Each figure is drawn from the earlier oils towards what is known of any vat, by how much they tell (empirical Bayes:
B. Efron and C. Morris, J. Am. Stat. Assoc. 70 (1975) 311-319); between-oil spread by the method of moments
(R. DerSimonian and N. Laird, Control. Clin. Trials 7 (1986) 177-188).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean

from bot.core.robust_line import Guess, Known, Line, Point, theil_sen

SCATTER = 1.0
"""Standard deviation of one test about the line, in points: a meter said to be right to ±2 points (from memory)."""

WORTH = 3
"""As many tests' worth of weight has ``SCATTER`` against what the tests themselves show; a choice, kept because
with it the 90 % intervals of ``tests/bench/bench_forecast.py`` hold."""

FRESH = Guess(5.0, 1.5)
"""Percent of polar compounds in fresh frying oil, by kind of oil (from memory: about 2 to 8)."""

FRESH_SPREAD = 0.7
"""Points by which one vat's oils start differently: old oil is left in the pipes; a choice."""

WEAR_SPREAD = 0.15
"""Share by which the oils of one vat wear differently, known beforehand as well as ``WORTH`` of them would tell it;
a choice."""


@dataclass(frozen=True, slots=True)
class Course:
    """The tests of one oil over days or drops, and where on that scale the oil was fresh, if that is known."""

    points: tuple[Point, ...]
    fresh_at: float | None = None


@dataclass(frozen=True, slots=True)
class Lore:
    """What is known before the tests of the present oil; ``slope`` None where no earlier oil tells."""

    scatter: float
    worth: float
    slope: Guess | None
    fresh: Guess

    def of(self, fresh_at: float | None) -> Known:
        """The same for the line of one oil, which was fresh there."""
        if fresh_at is None:
            return Known(self.slope)
        return Known(self.slope, self.fresh, fresh_at)


@dataclass(frozen=True, slots=True)
class _Fit:
    line: Line
    middle: float
    spread: float
    count: int
    off: float
    fresh_at: float | None


def lore(earlier: Sequence[Course]) -> Lore:
    """What the earlier oils of a vat tell, those with less than two tests apart from each other left out."""
    fits = [fit for fit in map(_fit, earlier) if fit is not None]
    free = sum(fit.count - 2 for fit in fits)
    variance = (WORTH * SCATTER**2 + sum(fit.off for fit in fits)) / (WORTH + free)
    return Lore(sqrt(variance), WORTH + free, _slope(fits, variance), _fresh(fits, variance))


def _fit(course: Course) -> _Fit | None:
    xs = [x for x, _ in course.points]
    if len(set(xs)) < 2:
        return None
    line = theil_sen(course.points)
    middle = fmean(xs)
    off = sum((y - line.at(x)) ** 2 for x, y in course.points)
    return _Fit(line, middle, sum((x - middle) ** 2 for x in xs), len(xs), off, course.fresh_at)


def _slope(fits: Sequence[_Fit], variance: float) -> Guess | None:
    slopes = [(fit.line.slope, variance / fit.spread) for fit in fits]
    if not slopes:
        return None
    between = 0.0
    mean = 0.0
    for _ in range(3):
        weights = [1 / (between + error) for _, error in slopes]
        mean = sum(weight * slope for weight, (slope, _) in zip(weights, slopes, strict=True)) / sum(weights)
        seen = sum((slope - mean) ** 2 - error for slope, error in slopes)
        between = (WORTH * (WEAR_SPREAD * mean) ** 2 + max(0.0, seen)) / (WORTH + len(slopes) - 1)
    if mean <= 0:
        return None
    return Guess(mean, sqrt(between + 1 / sum(1 / (between + error) for _, error in slopes)))


def _fresh(fits: Sequence[_Fit], variance: float) -> Guess:
    """Where the vat's next oil starts."""
    weight = FRESH.deviation**-2
    total = weight * FRESH.mean
    for fit in fits:
        if fit.fresh_at is not None:
            error = variance * (1 / fit.count + (fit.fresh_at - fit.middle) ** 2 / fit.spread)
            weight += 1 / (FRESH_SPREAD**2 + error)
            total += fit.line.at(fit.fresh_at) / (FRESH_SPREAD**2 + error)
    return Guess(total / weight, sqrt(1 / weight + FRESH_SPREAD**2))
