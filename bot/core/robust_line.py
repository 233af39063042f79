"""A straight line through few and doubtful points, and where it reaches a level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import inf, sqrt
from statistics import NormalDist, fmean, median

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


def crossing(
    points: Sequence[Point], level: float, scatter: float, worth: float, confidence: float = 0.9
) -> Crossing | None:
    """Where the rising line through three or more points reaches ``level``; None where it doesn't rise.

    ``scatter`` is the standard deviation expected of a point about the line, known beforehand as well as
    ``worth`` points would tell it: few readings alone say next to nothing about their own scatter. The interval is
    that of inverse prediction (E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185) about the Theil-Sen line.
    Raises ``ValueError`` for fewer than three points, or all at one ``x``.
    """
    if len(points) < 3:
        raise ValueError(f"{len(points)} points are too few")
    line = theil_sen(points)
    if line.slope <= 0:
        return None
    middle = fmean(x for x, _ in points)
    spread = sum((x - middle) ** 2 for x, _ in points)
    off = sum((y - line.at(x)) ** 2 for x, y in points)
    freedom = worth + len(points) - 2
    margin = student_t(0.5 + confidence / 2, freedom) ** 2 * (worth * scatter**2 + off) / freedom
    rise = level - line.at(middle)
    # (slope u - rise)² = margin (1/n + u²/spread), in u = x - middle.
    a = line.slope**2 - margin / spread
    b = -2 * line.slope * rise
    c = rise**2 - margin / len(points)
    likely = middle + rise / line.slope
    inside = b * b - 4 * a * c
    if inside < 0 or a == 0:
        return Crossing(-inf, likely, inf)
    roots = sorted(((-b - sqrt(inside)) / (2 * a), (-b + sqrt(inside)) / (2 * a)))
    if a < 0:
        # The slope may be nothing at all: what is ruled out lies between the roots, and later has no end.
        return Crossing(middle + roots[1] if middle + roots[1] <= likely else -inf, likely, inf)
    return Crossing(middle + roots[0], likely, middle + roots[1])


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
