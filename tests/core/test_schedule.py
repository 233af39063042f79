"""When duties fall due: each kind of recurrence, closed days, the first time, and changes of the rules."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pytest
from dateutil import rrule
from hypothesis import example, given, settings, strategies as st

from bot.core import schedule
from bot.core.calendar import ONE_DAY
from bot.core.kitchen import WEEKDAYS, Duty, Every, Kitchen, Weekday
from bot.core.schedule import Slot
from tests.core.daylog import Log
from tests.core.stage import daily, kitchen, local

TUESDAY = date(2026, 9, 15)
GRACE, ESCALATE = timedelta(minutes=30), timedelta(minutes=60)


def standing(every: Every, at: str | None = "10:30", last_done: date | None = None) -> Duty:
    """A duty of fryer 1 that isn't daily."""
    wall = time.fromisoformat(at) if at is not None else None
    return Duty("boil_out", every, wall, ("1",), GRACE, ESCALATE, last_done)


def log_of(duty: Duty, began: str = "2026-09-15 09:00") -> Log:
    return Log(kitchen(duty), local(began))


def due(log: Log, now: str = "2026-09-15 09:00") -> datetime | None:
    return log.due_at("boil_out", "1", local(now))


# --- the day a duty falls on ---


@given(st.integers(0, 6), st.dates(date(2020, 1, 1), date(2030, 12, 31)))
def test_a_weekly_duty_falls_on_its_next_weekday(weekday: int, base: date) -> None:
    """python-dateutil, an independent reading of RFC 5545: FREQ=WEEKLY;BYDAY."""
    start = datetime.combine(base, time())
    theirs = rrule.rrule(rrule.WEEKLY, byweekday=weekday, dtstart=start).after(start)
    assert schedule.nominal_day(standing(Every("week", on=WEEKDAYS[weekday])), base) == theirs.date()


@given(st.integers(1, 31), st.dates(date(2020, 1, 1), date(2030, 12, 31)))
@example(31, date(2028, 1, 31))
@example(30, date(2026, 2, 1))
def test_a_monthly_duty_falls_on_its_day_or_on_the_last_of_a_shorter_month(on: int, base: date) -> None:
    """python-dateutil: FREQ=MONTHLY with BYMONTHDAY from 28 up to the day and BYSETPOS=-1 takes the last there is."""
    start = datetime.combine(base, time())
    wanted = range(28, on + 1) if on > 28 else [on]
    theirs = rrule.rrule(rrule.MONTHLY, bymonthday=wanted, bysetpos=-1, dtstart=start).after(start)
    assert schedule.nominal_day(standing(Every("month", on=on)), base) == theirs.date()


@given(st.integers(1, 400), st.dates(date(2020, 1, 1), date(2030, 12, 31)))
def test_a_duty_of_n_days_falls_n_days_after_the_last_time(count: int, base: date) -> None:
    """python-dateutil: FREQ=DAILY;INTERVAL."""
    start = datetime.combine(base, time())
    theirs = rrule.rrule(rrule.DAILY, interval=count, dtstart=start).after(start)
    assert schedule.nominal_day(standing(Every("days", count)), base) == theirs.date()


# --- from the last confirmation, last_done, or the first open day ---


def test_a_duty_of_n_days_counts_from_its_last_confirmation() -> None:
    log = log_of(standing(Every("days", 3)))
    log.done("boil_out", "1", local("2026-09-15 11:00"))
    assert due(log) == local("2026-09-18 10:30")


def test_the_day_last_done_in_the_kitchen_file_counts_as_a_confirmation() -> None:
    assert due(log_of(standing(Every("days", 10), last_done=date(2026, 9, 12)))) == local("2026-09-22 10:30")


def test_a_confirmation_outweighs_the_day_last_done() -> None:
    log = log_of(standing(Every("days", 10), last_done=date(2026, 9, 12)))
    log.done("boil_out", "1", local("2026-09-15 11:00"))
    assert due(log) == local("2026-09-25 10:30")


@pytest.mark.parametrize(
    "every", [Every("days", 90), Every("week", on="sunday"), Every("month", on=31)], ids=["days", "week", "month"]
)
def test_a_duty_that_was_never_done_is_due_on_the_first_open_day(every: Every) -> None:
    """The log begins on a Monday, which is closed."""
    assert due(log_of(standing(every), began="2026-09-14 09:00")) == local("2026-09-15 10:30")


def test_a_duty_that_joins_the_file_later_is_due_on_the_first_open_day_from_then() -> None:
    log = Log(kitchen(), local("2026-09-01 09:00"))
    log.rules_change(kitchen(standing(Every("days", 90))), local("2026-09-15 09:00"))
    assert due(log) == local("2026-09-15 10:30")


def test_a_duty_that_falls_on_a_closed_day_is_due_on_the_next_open_day() -> None:
    """Six days after Tuesday the 15th is Monday the 21st."""
    log = log_of(standing(Every("days", 6)))
    log.done("boil_out", "1", local("2026-09-15 11:00"))
    assert due(log) == local("2026-09-22 10:30")


def test_closed_dates_count_as_closed_days() -> None:
    shut = kitchen(standing(Every("days", 6)), closed_dates=(date(2026, 9, 22), date(2026, 9, 23)))
    log = Log(shut, local("2026-09-15 09:00"))
    log.done("boil_out", "1", local("2026-09-15 11:00"))
    assert due(log) == local("2026-09-24 10:30")


def test_a_shift_past_a_closed_day_does_not_move_the_ones_after_it() -> None:
    """Weekly on Monday, always done on Tuesday."""
    log = log_of(standing(Every("week", on="monday"), last_done=date(2026, 9, 8)))
    assert due(log) == local("2026-09-15 10:30")
    log.done("boil_out", "1", local("2026-09-15 10:30"))
    assert due(log) == local("2026-09-22 10:30")


def test_a_weekly_duty_done_the_day_before_is_still_due_on_its_day() -> None:
    log = log_of(standing(Every("week", on="sunday"), last_done=date(2026, 9, 13)))
    early = log.done("boil_out", "1", local("2026-09-19 12:00"))
    assert early.status == "unscheduled"
    assert due(log) == local("2026-09-20 10:30")


# --- counted in drops ---


def test_a_duty_of_n_drops_falls_due_at_the_drop_that_reaches_n() -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("1", 9, local("2026-09-15 12:00"))
    assert due(log, "2026-09-15 12:30") is None
    log.drops("1", 1, local("2026-09-15 13:00"))
    assert due(log, "2026-09-15 13:30") == local("2026-09-15 13:00")


def test_drops_on_another_fryer_do_not_count() -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("2", 10, local("2026-09-15 12:00"))
    assert due(log, "2026-09-15 13:00") is None


def test_drops_before_the_last_confirmation_do_not_count() -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("1", 8, local("2026-09-15 12:00"))
    log.done("boil_out", "1", local("2026-09-15 12:30"))
    log.drops("1", 9, local("2026-09-15 13:00"))
    assert due(log, "2026-09-15 13:30") is None
    log.drops("1", 1, local("2026-09-15 14:00"))
    assert due(log, "2026-09-15 14:30") == local("2026-09-15 14:00")


def test_drops_that_were_taken_back_do_not_count() -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    mistake = log.drops("1", 10, local("2026-09-15 12:00"))
    log.undo(mistake, local("2026-09-15 12:01"))
    assert due(log, "2026-09-15 12:30") is None


def test_drops_count_again_once_a_confirmation_is_taken_back() -> None:
    """Eight, done by mistake, five: thirteen since the last time it was done."""
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("1", 8, local("2026-09-15 12:00"))
    mistake = log.done("boil_out", "1", local("2026-09-15 12:30"))
    log.drops("1", 5, local("2026-09-15 13:00"))
    log.undo(mistake.entry, local("2026-09-15 13:01"))
    log.drops("1", 1, local("2026-09-15 13:30"))
    assert due(log, "2026-09-15 14:00") is not None


# --- changes of the rules ---

PADS = Slot(daily("pad_change", "21:30", ("1",)), "1")


def daily_due(log: Log, day: date) -> datetime | None:
    found = schedule.daily_occurrence(log.state, PADS, day)
    return found.due_at if found is not None else None


@pytest.mark.parametrize(
    ("before", "after", "today", "tomorrow"),
    [
        # At noon, both still to come: the new time holds at once.
        ("21:30", "20:00", "20:00", "20:00"),
        # The old time has passed: today was today's.
        ("11:00", "20:00", "11:00", "20:00"),
        # The new time has passed already: once more at the old one, so that today is not left out.
        ("21:30", "11:00", "21:30", "11:00"),
        # Both have passed.
        ("11:00", "10:30", "11:00", "10:30"),
    ],
)
def test_a_new_time_takes_effect_at_the_next_occurrence(before: str, after: str, today: str, tomorrow: str) -> None:
    log = Log(kitchen(daily("pad_change", before, ("1",))), local("2026-09-01 09:00"))
    log.rules_change(kitchen(daily("pad_change", after, ("1",))), local("2026-09-15 12:00"))
    assert daily_due(log, TUESDAY) == local(f"2026-09-15 {today}")
    assert daily_due(log, TUESDAY + ONE_DAY) == local(f"2026-09-16 {tomorrow}")


def test_the_days_before_a_change_keep_their_rules() -> None:
    log = Log(kitchen(daily("pad_change", "21:30", ("1",))), local("2026-09-01 09:00"))
    log.rules_change(kitchen(daily("pad_change", "20:00", ("1",))), local("2026-09-15 12:00"))
    assert daily_due(log, TUESDAY - 2 * ONE_DAY) == local("2026-09-13 21:30")


def test_a_closed_day_has_no_occurrence() -> None:
    log = Log(kitchen(daily("pad_change", "21:30", ("1",))), local("2026-09-01 09:00"))
    assert daily_due(log, date(2026, 9, 14)) is None


walls = st.times().map(lambda at: at.replace(second=0, microsecond=0))
zones = st.sampled_from(["America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "America/Phoenix"])
closed = st.lists(st.sampled_from(WEEKDAYS), max_size=3, unique=True).map(tuple)


def any_kitchen(zone: str, opens: time, closes: time, at: time, closed_days: tuple[Weekday, ...]) -> Kitchen:
    duty = Duty("pad_change", Every("day"), at, ("1",), GRACE, ESCALATE)
    return kitchen(duty, timezone=zone, opens=opens, closes=closes, closed_days=closed_days)


@settings(max_examples=60)
@given(zones, walls, walls, walls, closed, st.dates(date(2026, 1, 5), date(2027, 12, 20)))
def test_each_open_day_has_exactly_one_occurrence_of_a_daily_duty_and_it_lies_in_that_day(
    zone: str, opens: time, closes: time, at: time, closed_days: tuple[Weekday, ...], first: date
) -> None:
    log = Log(any_kitchen(zone, opens, closes, at, closed_days), local("2026-01-01 00:00"))
    found = [schedule.daily_occurrence(log.state, PADS, first + n * ONE_DAY) for n in range(10)]
    for n, occurrence in enumerate(found):
        day = first + n * ONE_DAY
        assert (occurrence is not None) == log.days.is_open(day)
        if occurrence is not None:
            assert log.days.day_start(day) <= occurrence.due_at < log.days.day_end(day)
    keys = [o.key for o in found if o is not None]
    assert len(set(keys)) == len(keys)


@settings(max_examples=60)
@given(walls, walls, st.integers(-36 * 60, 36 * 60))
def test_a_change_of_time_neither_drops_a_day_nor_doubles_it(before: time, after: time, minutes: int) -> None:
    hours = time(10), time(22)
    changed_at = local("2026-09-16 12:00") + timedelta(minutes=minutes)
    log = Log(any_kitchen("America/New_York", *hours, before, ()), local("2026-09-01 09:00"))
    log.rules_change(any_kitchen("America/New_York", *hours, after, ()), changed_at)
    due_at = [daily_due(log, TUESDAY + n * ONE_DAY) for n in range(-1, 5)]
    assert None not in due_at
    assert sorted(set(due_at), key=str) == due_at
    walls_seen = [at.astimezone(log.days.zone).time() for at in due_at if at is not None]
    switch = walls_seen.index(after) if after in walls_seen else len(walls_seen)
    assert walls_seen == [before] * switch + [after] * (len(walls_seen) - switch) or before == after


@given(st.integers(1, 60), st.dates(date(2026, 9, 1), date(2027, 8, 31)), closed)
def test_a_standing_duty_is_never_due_on_a_closed_day(
    count: int, last_done: date, closed_days: tuple[Weekday, ...]
) -> None:
    shut = kitchen(standing(Every("days", count), last_done=last_done), closed_days=closed_days)
    log = Log(shut, local("2026-09-01 09:00"))
    due_at = log.due_at("boil_out", "1", local("2026-09-01 09:00"))
    assert due_at is not None
    due_on = log.days.day_of(due_at)
    assert log.days.is_open(due_on)
    nominal = last_done + timedelta(days=count)
    assert due_on >= nominal
    assert not any(log.days.is_open(nominal + n * ONE_DAY) for n in range((due_on - nominal).days))


def test_a_slot_that_the_kitchen_has_not_scheduled_is_none() -> None:
    log = Log(kitchen(daily("pad_change", "21:30", ("1",))), local("2026-09-15 09:00"))
    assert schedule.slot(log.state.rules[0].rules, "pad_change", "2") is None


@pytest.mark.parametrize(
    ("when", "status"),
    [("20:00", "on_time"), ("22:00", "on_time"), ("22:00:01", "late")],
    ids=["early", "at due plus grace", "a second later"],
)
def test_grace_is_inclusive(when: str, status: str) -> None:
    log = Log(kitchen(daily("pad_change", "21:30", ("1",))), local("2026-09-15 09:00"))
    assert log.done("pad_change", "1", local(f"2026-09-15 {when}")).status == status
