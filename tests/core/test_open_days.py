"""Time counted in open days."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given, strategies as st

from bot.core.calendar import calendar
from bot.core.open_days import after, elapsed
from bot.core.scene import rules_of
from tests.core.stage import kitchen, local

DAYS = calendar(rules_of(kitchen()))
"""Open from 10:00 to 22:00, closed on Mondays. 2026-09-15 is a Tuesday."""


@pytest.mark.parametrize(
    ("since", "until", "days"),
    [
        ("2026-09-15 10:00", "2026-09-15 22:00", 1.0),
        ("2026-09-15 16:00", "2026-09-16 16:00", 1.0),
        ("2026-09-15 22:30", "2026-09-16 09:00", 0.0),
        ("2026-09-13 16:00", "2026-09-15 16:00", 1.0),
        ("2026-09-16 16:00", "2026-09-15 16:00", 0.0),
    ],
)
def test_only_open_hours_count(since: str, until: str, days: float) -> None:
    assert elapsed(DAYS, local(since), local(until)) == pytest.approx(days)


def test_the_way_ahead_steps_over_closed_days() -> None:
    assert after(DAYS, local("2026-09-13 16:00"), 1.0) == local("2026-09-15 16:00")


@given(st.integers(0, 60 * 24 * 60), st.floats(0, 40))
def test_after_undoes_elapsed(minutes: int, amount: float) -> None:
    since = local("2026-09-01 10:00") + timedelta(minutes=minutes)
    until = after(DAYS, since, amount)
    assert until is not None
    assert elapsed(DAYS, since, until) == pytest.approx(amount, abs=1e-6)
