"""A straight line through few and doubtful points, and where it reaches a level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import hypot, inf, sqrt
from statistics import NormalDist, fmean, linear_regression, median

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """``y = level + slope * x``."""

    slope: float
    level: float

    def at(self, x: float) -> float:
        """The line's height over ``x``."""
        return self.level + self.slope * x


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a line reaches a level: the likeliest ``x``, and between which two it lies with the chance asked for.

    ``late`` is infinite where the points do not rule out that it never comes.
    """

    early: float
    likely: float
    late: float


def theil_sen(points: Sequence[Point]) -> Line:
    """The line whose slope is the median of the slopes between all pairs, at the median height above it.

    P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379-1389. A third of the points or so may be far off before it
    moves much. Raises ``ValueError`` where no two points differ in ``x``.
    """
    slopes = [(b[1] - a[1]) / (b[0] - a[0]) for a, b in combinations(points, 2) if a[0] != b[0]]
    if not slopes:
        raise ValueError("a line needs two points that lie apart")
    slope = median(slopes)
    return Line(slope, median(y - slope * x for x, y in points))


@dataclass(frozen=True, slots=True)
class Guess:
    """A value and its standard deviation."""

    mean: float
    deviation: float


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a line before its points are: its slope, and its height over the point ``at``."""

    slope: Guess | None = None
    height: Guess | None = None
    at: float = 0.0


NOTHING = Known()

SAME = 0.75
"""Chance that the slope known beforehand holds: what is fried, or how much a day, may have changed. A choice."""

CHANGED = 0.7
"""Share of it by which the slope differs (one standard deviation) where it has changed; a choice."""

AT_ODDS = 3.0
"""Standard deviations. A slope that lies so far even from a changed one is of something else altogether."""

SLIP = 4.0
"""Standard deviations. A point further from the line that most of them agree on is a slip, and counts no more."""


def least_squares(points: Sequence[Point]) -> Line:
    """The line of least squares. Raises ``ValueError`` where no two points differ in ``x``."""
    slope, level = linear_regression([x for x, _ in points], [y for _, y in points])
    return Line(slope, level)


def crossing(
    points: Sequence[Point], level: float, scatter: float, worth: float, confidence: float = 0.9, known: Known = NOTHING
) -> Crossing | None:
    """Where the rising line through three or more points reaches ``level``; None where it doesn't rise.

    ``scatter`` is the standard deviation expected of a point about the line, known beforehand as well as
    ``worth`` points would tell it: few readings alone say next to nothing about their own scatter. What is ``known``
    of the line counts beside the points by its precision (Gelman et al., Bayesian Data Analysis, 3rd ed., 14.8). The
    line is that of least squares, without the points that lie far off the Theil-Sen line; the interval is that of
    inverse prediction (E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185). Raises ``ValueError`` for fewer than
    three points, or all at one ``x``.
    """
    if len(points) < 3:
        raise ValueError(f"{len(points)} points are too few")
    first = theil_sen(points)
    if first.slope <= 0:
        return None
    kept = _without_slips(points, first, scatter)
    line = least_squares(kept)
    middle = fmean(x for x, _ in kept)
    spread = sum((x - middle) ** 2 for x, _ in kept)
    off = sum((y - line.at(x)) ** 2 for x, y in kept)
    freedom = worth + len(kept) - 2
    variance = (worth * scatter**2 + off) / freedom
    found = _weighed(_Belief.of(line.at(middle), line.slope, variance / len(kept), variance / spread), middle, known)
    height, slope, errors = found.height, found.slope, found.errors
    if slope <= 0:
        return None
    rise = level - height
    margin = student_t(0.5 + confidence / 2, freedom) ** 2
    # (slope u - rise)² = margin (error of the line's height over u)², in u = x - middle.
    a = slope**2 - margin * errors[2]
    b = -2 * (slope * rise + margin * errors[1])
    c = rise**2 - margin * errors[0]
    likely = middle + rise / slope
    inside = b * b - 4 * a * c
    if inside < 0 or a == 0:
        return Crossing(-inf, likely, inf)
    roots = sorted(((-b - sqrt(inside)) / (2 * a), (-b + sqrt(inside)) / (2 * a)))
    if a < 0:
        # The slope may be nothing at all: what is ruled out lies between the roots, and later has no end.
        return Crossing(middle + roots[1] if middle + roots[1] <= likely else -inf, likely, inf)
    return Crossing(middle + roots[0], likely, middle + roots[1])


def _without_slips(points: Sequence[Point], line: Line, scatter: float) -> Sequence[Point]:
    """The points without those far off the line, where three or more at different places are left."""
    far = [abs(y - line.at(x)) for x, y in points]
    # 1.4826 medians are a standard deviation of a normal distribution.
    most = SLIP * max(scatter, 1.4826 * median(far))
    kept = [point for point, off in zip(points, far, strict=True) if off <= most]
    return kept if len(kept) >= 3 and len({x for x, _ in kept}) > 1 else points


@dataclass(frozen=True, slots=True)
class _Belief:
    """A line's height over some point and its slope, with the inverse of their covariance matrix."""

    height: float
    slope: float
    hh: float
    hs: float
    ss: float

    @classmethod
    def of(cls, height: float, slope: float, of_height: float, of_slope: float) -> _Belief:
        return cls(height, slope, 1 / of_height, 0.0, 1 / of_slope)

    @property
    def errors(self) -> tuple[float, float, float]:
        """The variance of the height, the covariance, and the variance of the slope."""
        whole = self.hh * self.ss - self.hs**2
        return self.ss / whole, -self.hs / whole, self.hh / whole

    def and_also(self, value: float, deviation: float, height: float, slope: float) -> _Belief:
        """With one more thing known: ``height`` times the height and ``slope`` times the slope make ``value``."""
        weight = deviation**-2
        miss = value - height * self.height - slope * self.slope
        hh, hs = self.hh + weight * height * height, self.hs + weight * height * slope
        ss = self.ss + weight * slope * slope
        whole = hh * ss - hs * hs
        pull = weight * miss / whole
        return _Belief(
            self.height + pull * (ss * height - hs * slope), self.slope + pull * (hh * slope - hs * height), hh, hs, ss
        )


def _weighed(belief: _Belief, middle: float, known: Known) -> _Belief:
    """What the points say, together with what is known beforehand, each weighed by its precision."""
    if known.height is not None:
        belief = belief.and_also(known.height.mean, known.height.deviation, 1.0, known.at - middle)
    if known.slope is None:
        return belief
    # Two stories, that the slope is as before and that it has changed; their mixture is taken as one normal
    # distribution of the same mean and variance (Bayesian Data Analysis, 3rd ed., chapter 7.4 on averaging models).
    mean, same = known.slope.mean, known.slope.deviation
    changed = hypot(same, CHANGED * mean)
    variance = belief.errors[2]
    if abs(belief.slope - mean) > AT_ODDS * hypot(sqrt(variance), changed):
        return belief
    stories = ((SAME, same), (1 - SAME, changed))
    chances = [chance * NormalDist(mean, hypot(sqrt(variance), wide)).pdf(belief.slope) for chance, wide in stories]
    weights = [chance / sum(chances) for chance in chances]
    means, variances = [], []
    for _, wide in stories:
        precision = 1 / variance + wide**-2
        means.append((belief.slope / variance + mean * wide**-2) / precision)
        variances.append(1 / precision)
    slope = sum(w * m for w, m in zip(weights, means, strict=True))
    left = sum(w * (v + (m - slope) ** 2) for w, v, m in zip(weights, variances, means, strict=True))
    # The same as one plain thing known of the slope, which brings it to that mean and variance.
    if left >= variance:
        return belief
    precision = 1 / left - 1 / variance
    return belief.and_also((slope / left - belief.slope / variance) / precision, precision**-0.5, 0.0, 1.0)


def student_t(probability: float, freedom: float) -> float:
    """A quantile of Student's t, from that of the normal distribution: Abramowitz and Stegun 26.7.5.

    Good to a thousandth of its value from four degrees of freedom on, at probabilities up to 0.975.
    """
    z = NormalDist().inv_cdf(probability)
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + sum(term / freedom**power for power, term in enumerate(terms, 1))
