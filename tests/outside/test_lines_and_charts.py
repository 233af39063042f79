"""Straight lines and control charts against published worked examples and tables."""

from __future__ import annotations

import pytest

from bot.core.robust_line import student_t, theil_sen
from bot.core.trend import ewma, ewma_limits, p_chart_limits


def test_theil_sen_on_the_worked_example_of_1968() -> None:
    """P. K. Sen, J. Am. Stat. Assoc. 63 (1968); as kept in scipy/stats/tests/test_mstats_basic.py: slope 4, level 6."""
    line = theil_sen(list(zip((1, 2, 3, 4, 10, 12, 18), (9, 15, 19, 20, 45, 55, 78), strict=True)))
    assert (line.slope, line.level) == (4, 6)


def test_theil_sen_on_three_points() -> None:
    """scipy/stats/tests/test_mstats_basic.py: y = 0 1 1 over x = 0 1 2 has the slope 0.5."""
    assert theil_sen([(0, 0), (1, 1), (2, 1)]).slope == 0.5


@pytest.mark.parametrize(
    ("probability", "freedom", "quantile"),
    [
        (0.95, 4, 2.132), (0.95, 5, 2.015), (0.95, 6, 1.943), (0.95, 8, 1.860), (0.95, 10, 1.812), (0.95, 30, 1.697),
        (0.975, 4, 2.776), (0.975, 5, 2.571), (0.975, 6, 2.447), (0.975, 8, 2.306), (0.975, 10, 2.228),
    ],
)  # fmt: skip
def test_students_t_is_that_of_the_printed_table(probability: float, freedom: int, quantile: float) -> None:
    """NIST/SEMATECH e-Handbook, table 1.3.6.7.2 (values from memory)."""
    assert student_t(probability, freedom) == pytest.approx(quantile, rel=1e-3)


def test_p_chart_limits_of_the_handbook() -> None:
    """NIST/SEMATECH 6.3.3.2: 30 samples of 50 chips, mean fraction 0.2313; limits 0.0524 and 0.4102."""
    assert p_chart_limits(0.2313, 50) == pytest.approx((0.0524, 0.4102), abs=5e-4)


CHIPS = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6,
    52.1,
]  # fmt: skip


def test_ewma_of_the_handbook() -> None:
    """NIST/SEMATECH 6.3.2.4: target 50, s = 2.0539, weight 0.3 (the data from memory, the arithmetic checked)."""
    assert [round(z, 2) for z in ewma(CHIPS, 50, 0.3)] == [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
        50.73, 51.23, 51.94, 51.99,
    ]  # fmt: skip
    assert ewma_limits(50, 2.0539, 0.3, 3) == pytest.approx((47.4115, 52.5884), abs=1e-4)


SHIFTED = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62,
    10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
]  # fmt: skip


def test_ewma_with_limits_that_widen_signals_where_the_textbook_example_does() -> None:
    """The data of help.imsl.com/net/current/manual/docs/ewma.htm: mean 10, sd 1, weight 0.1, width 2.7."""
    averages = ewma(SHIFTED, 10, 0.1)
    assert averages[:3] == pytest.approx([9.945, 9.7495, 9.70355])
    assert [ewma_limits(10, 1, 0.1, 2.7, i) for i in (1, 2, 3)] == [
        pytest.approx(pair, abs=1e-3) for pair in ((9.73, 10.27), (9.6368, 10.3632), (9.576, 10.424))
    ]
    assert ewma_limits(10, 1, 0.1, 2.7) == pytest.approx((9.3806, 10.6194), abs=1e-4)
    beyond = [i for i, z in enumerate(averages, 1) if z > ewma_limits(10, 1, 0.1, 2.7, i)[1]]
    assert beyond[0] == 29
    assert averages[28] == pytest.approx(10.64682, abs=1e-5)
