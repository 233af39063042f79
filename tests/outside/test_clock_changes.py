"""Wall times at clock changes: against the tables of the zones, an independent library, and the rule of RFC 5545."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from dateutil import tz
from hypothesis import example, given, strategies as st

from bot.core.calendar import AFTER_CLOSING, ONE_DAY, Calendar
from bot.core.records import Rules

NEW_YORK, BERLIN, LORD_HOWE, PHOENIX = "America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "America/Phoenix"
ZONES = (NEW_YORK, BERLIN, LORD_HOWE, PHOENIX, "America/St_Johns", "Asia/Kolkata", "Pacific/Auckland", "UTC")


def days(zone: str, opens: time = time(10), closes: time = time(22)) -> Calendar:
    return Calendar(Rules("Test Kitchen", zone, opens, closes, (), (), (), ()))


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


CHANGES = [
    # Zone, instant of the change, wall clock just before it, wall clock at it. The first eight are rows 10.4 to 10.7
    # of our table of facts (zoneinfo, time zone data 2025b). Lord Howe moves by half an hour, on the first Sunday of
    # April and of October at 02:00: IANA time zone database, file "australasia" (from memory).
    (NEW_YORK, "2026-03-08T07:00", "01:59", "03:00"),
    (NEW_YORK, "2026-11-01T06:00", "01:59", "01:00"),
    (NEW_YORK, "2027-03-14T07:00", "01:59", "03:00"),
    (NEW_YORK, "2027-11-07T06:00", "01:59", "01:00"),
    (BERLIN, "2026-03-29T01:00", "01:59", "03:00"),
    (BERLIN, "2026-10-25T01:00", "02:59", "02:00"),
    (BERLIN, "2027-03-28T01:00", "01:59", "03:00"),
    (BERLIN, "2027-10-31T01:00", "02:59", "02:00"),
    (LORD_HOWE, "2026-04-04T15:00", "01:59", "01:30"),
    (LORD_HOWE, "2026-10-03T15:30", "01:59", "02:30"),
]


@pytest.mark.parametrize(("zone", "change", "before", "at"), CHANGES)
def test_the_clock_changes_when_the_tables_say(zone: str, change: str, before: str, at: str) -> None:
    kitchen = days(zone)
    moment = utc(change)
    assert f"{(moment - timedelta(minutes=1)).astimezone(kitchen.zone):%H:%M}" == before
    assert f"{moment.astimezone(kitchen.zone):%H:%M}" == at


@pytest.mark.parametrize(
    ("zone", "wall", "instant"),
    [
        # A local time that does not exist is read with the offset from before the gap: RFC 5545, section 3.3.5,
        # whose own example is 2007-03-11 02:30 in New York; the others are row 10.8 of our table of facts.
        (NEW_YORK, "2007-03-11T02:30", "2007-03-11T07:30"),
        (NEW_YORK, "2026-03-08T02:30", "2026-03-08T07:30"),
        (BERLIN, "2026-03-29T02:30", "2026-03-29T01:30"),
        (LORD_HOWE, "2026-10-04T02:15", "2026-10-03T15:45"),
        # One that comes twice is the first of the two: the same section, with 2007-11-04 01:30; row 10.9.
        (NEW_YORK, "2007-11-04T01:30", "2007-11-04T05:30"),
        (NEW_YORK, "2026-11-01T01:30", "2026-11-01T05:30"),
        (BERLIN, "2026-10-25T02:30", "2026-10-25T00:30"),
        (LORD_HOWE, "2026-04-05T01:45", "2026-04-04T14:45"),
        # A zone without clock changes: UTC-7 all year (IANA time zone database, "America/Phoenix").
        (PHOENIX, "2026-03-08T02:30", "2026-03-08T09:30"),
        (PHOENIX, "2026-11-01T01:30", "2026-11-01T08:30"),
    ],
)
def test_odd_wall_times_are_read_as_the_standard_says(zone: str, wall: str, instant: str) -> None:
    said = datetime.fromisoformat(wall)
    assert days(zone).instant(said.date(), said.time()) == utc(instant)


@given(st.sampled_from(ZONES), st.dates(date(2024, 1, 1), date(2030, 12, 31)), st.times())
def test_any_wall_time_is_the_instant_that_another_library_gives(zone: str, on: date, wall: time) -> None:
    """python-dateutil reads zones with code of its own; ``resolve_imaginary`` moves a time out of a gap."""
    said = datetime.combine(on, wall.replace(fold=0), tz.gettz(zone))
    assert days(zone).instant(on, wall) == tz.resolve_imaginary(said).astimezone(UTC)


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        (NEW_YORK, date(2026, 3, 8), 23),
        (NEW_YORK, date(2026, 11, 1), 25),
        (BERLIN, date(2026, 3, 29), 23),
        (BERLIN, date(2026, 10, 25), 25),
        (LORD_HOWE, date(2026, 4, 5), 24.5),
        (LORD_HOWE, date(2026, 10, 4), 23.5),
        (PHOENIX, date(2026, 3, 8), 24),
    ],
)
@pytest.mark.parametrize("closes", [time(1), time(22)])
def test_the_kitchen_day_with_the_change_in_it_is_shorter_or_longer_by_it(
    zone: str, day: date, hours: float, closes: time
) -> None:
    """From two hours after one closing to two hours after the next; its neighbours have their 24 hours."""
    kitchen = days(zone, closes=closes)
    lengths = [kitchen.day_end(day + n * ONE_DAY) - kitchen.day_start(day + n * ONE_DAY) for n in (-1, 0, 1)]
    assert lengths == [timedelta(hours=24), timedelta(hours=hours), timedelta(hours=24)]


def test_a_wait_across_a_change_is_as_long_as_it_says() -> None:
    """45 minutes from 01:30, when the clock of New York goes back at 02:00 to 01:00, end at 01:15."""
    kitchen = days(NEW_YORK)
    ends = kitchen.instant(date(2026, 11, 1), time(1, 30)) + timedelta(minutes=45)
    assert f"{ends.astimezone(kitchen.zone):%H:%M}" == "01:15"


zones = st.sampled_from(ZONES)
walls = st.times().map(lambda at: at.replace(second=0, microsecond=0))
# Two years of days, with every change of the tables among them.
dates = st.one_of(
    st.dates(date(2026, 1, 1), date(2027, 12, 31)),
    st.builds(lambda change, off: utc(change[1]).date() + off * ONE_DAY, st.sampled_from(CHANGES), st.integers(-2, 2)),
)


@given(zones, walls, walls, dates, st.integers(0, 24 * 60 - 1))
@example(NEW_YORK, time(23), time(23), date(2026, 9, 15), 270)
def test_kitchen_days_divide_time_without_gap_or_overlap(
    zone: str, opens: time, closes: time, on: date, minute: int
) -> None:
    """Every instant lies in exactly one kitchen day, whatever the hours and the clock changes."""
    kitchen = days(zone, opens, closes)
    instant = datetime.combine(on, time(0), UTC) + timedelta(minutes=minute)
    day = kitchen.day_of(instant)
    assert kitchen.day_start(day) <= instant < kitchen.day_end(day)
    assert kitchen.day_end(day) == kitchen.day_start(day + ONE_DAY) == kitchen.closing(day) + AFTER_CLOSING


@given(zones, walls, walls, dates, walls)
def test_a_wall_time_of_a_kitchen_day_lies_in_that_day(
    zone: str, opens: time, closes: time, day: date, wall: time
) -> None:
    kitchen = days(zone, opens, closes)
    assert kitchen.day_of(kitchen.at(day, wall)) == day


@given(zones, walls, walls, st.dates(date(2026, 6, 1), date(2026, 7, 31)), walls)
@example(NEW_YORK, time(23), time(23), date(2026, 6, 15), time(0, 30))
def test_where_no_clock_changes_a_wall_time_is_what_the_clock_shows(
    zone: str, opens: time, closes: time, day: date, wall: time
) -> None:
    kitchen = days(zone, opens, closes)
    assert kitchen.at(day, wall).astimezone(kitchen.zone).time() == wall
