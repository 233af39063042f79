"""The Wilson interval against published values, and against the equation that defines it."""

from __future__ import annotations

from math import isclose
from statistics import NormalDist

import pytest
from hypothesis import given, strategies as st

from bot.core.statistics import wilson_interval


@pytest.mark.parametrize(
    ("hits", "trials", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_the_four_cases_of_the_comparison_of_seven_methods(hits: int, trials: int, low: float, high: float) -> None:
    """Statistics in Medicine 17 (1998) 857-872, the score method without continuity correction.

    The four cases and their limits are from memory of its table; recomputed to the four places printed.
    """
    assert wilson_interval(hits, trials) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(
    ("hits", "confidence", "low", "high"),
    [
        (3, 0.95, 0.1077913, 0.6032219),
        (3, 0.99, 0.07956632, 0.6799753),
        (0, 0.95, 0.0, 0.2775328),
        (10, 0.95, 0.7224672, 1.0),
    ],
)
def test_the_values_of_another_implementation_for_ten_trials(
    hits: int, confidence: float, low: float, high: float
) -> None:
    """R 3.6.2, ``prop.test`` without correction; values kept in SciPy's ``test_morestats.py``."""
    assert wilson_interval(hits, 10, confidence) == pytest.approx((low, high), abs=5e-8)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_each_limit_solves_the_score_equation(counts: tuple[int, int], confidence: float) -> None:
    """The limits are the shares p with (hits/n - p)^2 = z^2 p (1 - p) / n: Wilson's definition of 1927."""
    hits, trials = counts
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    for limit in wilson_interval(hits, trials, confidence):
        distance = abs(hits / trials - limit)
        assert isclose(distance, z * (limit * (1 - limit) / trials) ** 0.5, rel_tol=1e-6, abs_tol=1e-7)


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_holds_the_share_and_stays_between_none_and_all(counts: tuple[int, int]) -> None:
    hits, trials = counts
    low, high = wilson_interval(hits, trials)
    assert 0 <= low <= hits / trials <= high <= 1


@given(st.integers(1, 1000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_misses_mirror_hits(counts: tuple[int, int]) -> None:
    hits, trials = counts
    low, high = wilson_interval(hits, trials)
    assert wilson_interval(trials - hits, trials) == pytest.approx((1 - high, 1 - low))


@pytest.mark.parametrize(("hits", "trials"), [(0, 0), (-1, 5), (6, 5)])
def test_what_is_no_proportion_is_refused(hits: int, trials: int) -> None:
    with pytest.raises(ValueError, match="no proportion"):
        wilson_interval(hits, trials)
