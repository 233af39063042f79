"""Statistics with a name of their own, each with its source."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist


def wilson_interval(hits: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """The Wilson score interval of a proportion, without continuity correction.

    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212. Raises ``ValueError`` without trials.
    """
    if not 0 <= hits <= trials or trials == 0:
        raise ValueError(f"{hits} of {trials} is no proportion")
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = hits / trials
    scale = 1 + z * z / trials
    middle = (share + z * z / (2 * trials)) / scale
    half = z * sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials)) / scale
    # At the ends the exact bound is 0 or 1; rounding must not push it past.
    return (0.0 if hits == 0 else middle - half, 1.0 if hits == trials else middle + half)


def whole_percent(share: float) -> int:
    """A share from 0 to 1 as a whole percent; 100 means all and 0 none, whatever rounding would say."""
    rounded = round(100 * share)
    if rounded == 100 and share < 1:
        return 99
    if rounded == 0 and share > 0:
        return 1
    return rounded
