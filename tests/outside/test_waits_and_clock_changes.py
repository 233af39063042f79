"""Waits and daily duties over every clock change of 2026 and 2027, against ``dateutil`` and its own zone rules.

A wait is a length of time and takes exactly as long whatever the clocks do. A daily duty falls due once a kitchen day,
at its wall time read as RFC 5545, section 3.3.5 has it: the first of two, and with the offset from before a gap.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import cache

import pytest
from dateutil import tz

from bot.core import agenda
from bot.core.cooldown import marks
from bot.core.kitchen import Duty, Every
from bot.core.records import Confirmed, WaitEnded
from tests.core.stage import CREW, Stage, ids, kitchen

ZONES = {
    # How often each changes its clocks in two years, and by how much: from our table of facts, rows 10.4 to 10.7, and
    # for Sydney and Lord Howe the IANA time zone database, file "australasia" (from memory). Phoenix has no change.
    "America/New_York": (4, timedelta(hours=1)),
    "Europe/Berlin": (4, timedelta(hours=1)),
    "Australia/Sydney": (4, timedelta(hours=1)),
    "Australia/Lord_Howe": (4, timedelta(minutes=30)),
    "America/Phoenix": (0, timedelta(0)),
}
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
OPENS, CLOSES = time(17), time(4)
"""A night kitchen: its day ends at 06:00, so that every change lies within its waking hours."""
WALLS = [time(0, 30), time(1), time(1, 15), time(1, 45), time(2), time(2, 15), time(2, 30), time(2, 45), time(3)]


@cache
def changes(zone: str) -> tuple[datetime, ...]:
    """The instants of 2026 and 2027 at which the clocks of a zone change, by dateutil alone."""
    local = tz.gettz(zone)
    found = []
    at = datetime(2026, 1, 1, tzinfo=UTC)
    while at < datetime(2028, 1, 1, tzinfo=UTC):
        if at.astimezone(local).utcoffset() != (at + HOUR).astimezone(local).utcoffset():
            first = next(
                at + n * MINUTE
                for n in range(1, 61)
                if (at + n * MINUTE).astimezone(local).utcoffset() != at.astimezone(local).utcoffset()
            )
            found.append(first)
        at += HOUR
    return tuple(found)


def moments(zone: str) -> list[datetime]:
    """Each change of a zone; for a zone without any, the nights on which New York changes."""
    return list(changes(zone) or changes("America/New_York"))


def stage(zone: str, at: datetime, *duties: Duty) -> Stage:
    return Stage(kitchen(*duties, timezone=zone, opens=OPENS, closes=CLOSES, closed_days=()), at)


def by_dateutil(zone: str, day: date, wall: time) -> datetime:
    """The instant of a wall time in the small hours after kitchen day ``day``."""
    local = tz.gettz(zone)
    said = datetime.combine(day + DAY, wall, local)
    return tz.resolve_imaginary(said).astimezone(UTC)


@pytest.mark.parametrize("zone", ZONES)
def test_the_changes_that_are_tested_are_those_that_there_are(zone: str) -> None:
    count, step = ZONES[zone]
    local = tz.gettz(zone)
    assert len(changes(zone)) == count
    for at in changes(zone):
        before, after = (at - MINUTE).astimezone(local).utcoffset(), at.astimezone(local).utcoffset()
        assert before is not None
        assert after is not None
        assert abs(after - before) == step


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("before", [0, 1, 10, 29, 30, 31, 45, 60, 75, 90])
def test_a_wait_over_a_clock_change_takes_exactly_its_length(zone: str, before: int) -> None:
    for change in moments(zone):
        begun = change - before * MINUTE
        s = stage(zone, begun)
        s.tap("ben", "wait:pump:1")
        (wait,) = s.state.waits.values()
        assert wait.ends_at - begun == timedelta(minutes=30)
        assert [at for _, at in marks(wait)] == [begun + n * MINUTE for n in (5, 10, 15, 20, 25, 26, 27, 28, 29)]
        s.until(wait.ends_at - timedelta(seconds=1))
        assert s.logged(WaitEnded) == []
        assert "wait.over" in ids(s.until(wait.ends_at))


@pytest.mark.parametrize("zone", ZONES)
def test_a_wait_tells_the_wall_time_at_which_it_ends_by_the_clock_of_that_instant(zone: str) -> None:
    for change in moments(zone):
        for before in (5, 15, 29, 30):
            s = stage(zone, change - before * MINUTE)
            until = s.tap("ben", "wait:pump:1")[0].lines[0].params["until"]
            assert until.astimezone(s.scene.days.zone).replace(tzinfo=None) == (
                (change + (30 - before) * MINUTE).astimezone(tz.gettz(zone)).replace(tzinfo=None)
            )


@pytest.mark.parametrize("zone", ZONES)
def test_a_daily_duty_falls_due_once_each_kitchen_day_at_its_wall_time(zone: str) -> None:
    for change in moments(zone):
        first = change.astimezone(tz.gettz(zone)).date() - 3 * DAY
        for wall in WALLS:
            duty = Duty("hood_filters", Every("day"), wall, None, 30 * MINUTE, HOUR)
            s = stage(zone, by_dateutil(zone, first - DAY, time(12)), duty)
            seen = []
            while (at := agenda.next_at(s.scene)) is not None and at <= by_dateutil(zone, first + 4 * DAY, time(11)):
                seen += [at for r in s.until(at) if (r.kind, r.to, r.edit) == ("reminder", CREW, False)]
            assert seen == [by_dateutil(zone, first + n * DAY, wall) for n in range(5)]


@pytest.mark.parametrize("zone", ZONES)
def test_a_confirmation_after_the_change_counts_by_the_time_that_has_really_passed(zone: str) -> None:
    """Half an hour of grace is thirty minutes, though the clock says more or less."""
    for change in moments(zone):
        day = change.astimezone(tz.gettz(zone)).date() - DAY
        due = by_dateutil(zone, day, time(1, 45))
        duty = Duty("hood_filters", Every("day"), time(1, 45), None, 30 * MINUTE, HOUR)
        for late, status in ((30 * MINUTE, "on_time"), (31 * MINUTE, "late")):
            s = stage(zone, due - HOUR, duty)
            s.until(due + late)
            s.say("ben", "log.done", duty="hood_filters")
            (confirmed,) = s.logged(Confirmed)
            assert (confirmed.due_at, confirmed.status) == (due, status)
