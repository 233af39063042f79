"""Days, weeks and the end of the rush, as a message names them."""

from __future__ import annotations

import pytest

from bot.core.records import Snoozed
from bot.core.times import after_rush
from tests.core.stage import Stage, daily, kitchen, local

PADS = daily("pad_change", "15:30", ("1",))


def stage() -> Stage:
    """A Thursday afternoon."""
    s = Stage(kitchen(PADS), local("2026-09-14 12:00"))
    s.until(local("2026-09-17 16:00"))
    return s


def test_a_weekday_is_the_last_such_day() -> None:
    seen = stage().say("omar", "ask.summary", weekday=1)
    assert "2026, 9, 15" in repr(seen)


@pytest.mark.parametrize(("period", "first"), [("this_week", "2026, 9, 14"), ("last_week", "2026, 9, 7")])
def test_a_week_is_summed_from_its_monday(period: str, first: str) -> None:
    assert first in repr(stage().say("omar", "ask.summary", period=period))


def test_after_the_rush_puts_a_reminder_off_until_then() -> None:
    s = stage()
    s.say("ben", "remind.snooze", after_rush=True)
    assert {snoozed.until for snoozed in s.logged(Snoozed)} == {after_rush(s.scene)}
