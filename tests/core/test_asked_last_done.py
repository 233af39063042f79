"""When a duty was done, asked of one day."""

from __future__ import annotations

import pytest

from tests.core.stage import Stage, daily, ids, kitchen, local

PADS = daily("pad_change", "15:30", ("1",))


@pytest.fixture
def stage() -> Stage:
    """A Thursday; the pad was changed on Tuesday and on Wednesday."""
    s = Stage(kitchen(PADS), local("2026-09-14 12:00"))
    for day in (15, 16):
        s.until(local(f"2026-09-{day} 15:00"))
        s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.until(local("2026-09-17 12:00"))
    return s


def test_a_named_weekday_is_answered_with_what_was_done_on_it(stage: Stage) -> None:
    seen = stage.say("omar", "ask.last_done", duty="pad_change", fryer="1", weekday=1)
    assert ids(seen) == ["last.done"]
    assert "2026, 9, 15" in repr(seen)


def test_yesterday_is_the_kitchen_day_before(stage: Stage) -> None:
    seen = stage.say("omar", "ask.last_done", duty="pad_change", fryer="1", days_ago=1)
    assert "2026, 9, 16" in repr(seen)


def test_a_day_without_it_is_said_before_the_last_time(stage: Stage) -> None:
    seen = stage.say("omar", "ask.last_done", duty="pad_change", fryer="1", weekday=0)
    assert ids(seen) == ["last.not_on", "last.done"]
