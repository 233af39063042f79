"""How duties are judged: one test for each rule that the contract states, and the laws that hold for any log."""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from bot.core.calendar import ONE_DAY
from bot.core.compliance import Tally, judge_day
from bot.core.kitchen import Duty, Every
from bot.core.records import Confirmed
from tests.core.daylog import Log
from tests.core.stage import daily, kitchen, local

SUNDAY, MONDAY, TUESDAY, WEDNESDAY = (date(2026, 9, day) for day in (13, 14, 15, 16))
"""Monday is closed."""

NEXT_SUNDAY, NEXT_MONDAY, NEXT_TUESDAY = (day + timedelta(days=7) for day in (SUNDAY, MONDAY, TUESDAY))
PADS = daily("pad_change", "21:30", ("1",))
HOOD = Duty("hood_filters", Every("week", on="sunday"), time(21), None, timedelta(minutes=30), timedelta(minutes=60))
PAD, HOODS = ("pad_change", "1"), ("hood_filters", None)


def log_of(*duties: Duty, began: str = "2026-09-12 09:00", **changes: Any) -> Log:
    return Log(kitchen(*duties, **changes), local(began))


def standing(every: Every, at: str | None = "10:30", last_done: date | None = None) -> Duty:
    """A duty of fryer 1 that isn't daily."""
    wall = time.fromisoformat(at) if at is not None else None
    return Duty("boil_out", every, wall, ("1",), timedelta(minutes=30), timedelta(minutes=60), last_done)


# --- daily duties ---


@pytest.mark.parametrize(
    ("when", "verdict"),
    [("10:05", "on_time"), ("21:30", "on_time"), ("22:00", "on_time"), ("22:00:01", "late"), ("23:59", "late")],
)
def test_a_daily_duty_is_on_time_up_to_due_plus_grace_and_late_after_that(when: str, verdict: str) -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local(f"2026-09-15 {when}"))
    assert log.judged(TUESDAY).of == {PAD: verdict}


def test_the_record_of_a_confirmation_says_what_the_summary_says() -> None:
    log = log_of(PADS)
    confirmed = log.done("pad_change", "1", local("2026-09-15 22:10"))
    assert (confirmed.status, confirmed.due_at) == ("late", local("2026-09-15 21:30"))


def test_undone_when_the_day_ends_is_missed() -> None:
    assert log_of(PADS).judged(TUESDAY).of == {PAD: "missed"}


def test_until_the_day_ends_it_is_open_and_before_its_time_it_is_not_counted() -> None:
    log = log_of(PADS)
    assert log.judged(TUESDAY, as_of=local("2026-09-15 23:59")).of == {PAD: "open"}
    assert log.judged(TUESDAY, as_of=local("2026-09-15 21:29")).of == {}


def test_done_before_its_time_it_is_counted_at_once() -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local("2026-09-15 20:00"))
    assert log.judged(TUESDAY, as_of=local("2026-09-15 20:01")).of == {PAD: "on_time"}


def test_a_second_confirmation_is_unscheduled_and_changes_nothing() -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local("2026-09-15 21:00"))
    second = log.done("pad_change", "1", local("2026-09-15 22:30"))
    assert (second.status, second.due_at) == ("unscheduled", None)
    assert log.judged(TUESDAY).of == {PAD: "on_time"}


def test_a_confirmation_of_what_the_kitchen_has_not_scheduled_is_unscheduled() -> None:
    log = log_of(PADS)
    assert log.done("pad_change", "2", local("2026-09-15 21:00")).status == "unscheduled"
    assert log.judged(TUESDAY).of == {PAD: "missed"}


def test_each_fryer_has_its_own_occurrence_and_a_kitchen_duty_has_one() -> None:
    log = log_of(daily("pad_change", "21:30", ("1", "2")), daily("fire_check", "20:00", None))
    log.done("pad_change", "2", local("2026-09-15 21:30"))
    assert log.judged(TUESDAY).of == {PAD: "missed", ("pad_change", "2"): "on_time", ("fire_check", None): "missed"}


def test_a_closed_day_has_no_occurrences() -> None:
    assert log_of(PADS).judged(MONDAY).of == {}
    assert log_of(PADS, closed_dates=(TUESDAY,)).judged(TUESDAY).of == {}


# --- the kitchen day ---


def test_a_kitchen_day_runs_to_two_hours_after_its_closing() -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local("2026-09-15 23:59"))
    log.done("pad_change", "1", local("2026-09-16 00:00"))
    assert (log.judged(TUESDAY).of, log.judged(WEDNESDAY).of) == ({PAD: "late"}, {PAD: "on_time"})


@pytest.mark.parametrize(
    ("when", "tuesday", "wednesday"),
    [
        ("2026-09-16 01:20", "on_time", "missed"),
        ("2026-09-16 03:29", "late", "missed"),
        # Two hours after closing, the next kitchen day begins: done early for that.
        ("2026-09-16 03:30", "missed", "on_time"),
    ],
)
def test_a_kitchen_that_closes_after_midnight_carries_its_day_into_the_next_date(
    when: str, tuesday: str, wednesday: str
) -> None:
    log = log_of(daily("pad_change", "01:00", ("1",)), closes=time(1, 30))
    log.done("pad_change", "1", local(when))
    assert log.judged(TUESDAY).of == {PAD: tuesday}
    assert log.judged(WEDNESDAY).of == {PAD: wednesday}


# --- excused ---


def test_out_of_service_at_the_due_time_is_excused() -> None:
    log = log_of(PADS)
    log.down("1", local("2026-09-15 18:00"))
    assert log.judged(TUESDAY).of == {PAD: "excused"}


@pytest.mark.parametrize(("down", "up"), [("18:00", "21:30"), ("21:31", "23:00")], ids=["before", "after"])
def test_out_of_service_at_another_time_is_not_excused(down: str, up: str) -> None:
    log = log_of(PADS)
    log.down("1", local(f"2026-09-15 {down}"))
    log.up("1", local(f"2026-09-15 {up}"))
    assert log.judged(TUESDAY).of == {PAD: "missed"}


def test_another_fryer_out_of_service_excuses_nothing() -> None:
    log = log_of(PADS)
    log.down("2", local("2026-09-15 18:00"))
    assert log.judged(TUESDAY).of == {PAD: "missed"}


def test_a_duty_of_the_whole_kitchen_is_not_excused_by_one_fryer() -> None:
    log = log_of(daily("fire_check", "20:00", None))
    log.down("1", local("2026-09-15 18:00"))
    assert log.judged(TUESDAY).of == {("fire_check", None): "missed"}


def test_an_outage_that_was_taken_back_excuses_nothing() -> None:
    log = log_of(PADS)
    mistake = log.down("1", local("2026-09-15 18:00"))
    log.undo(mistake, local("2026-09-15 18:01"))
    assert log.judged(TUESDAY).of == {PAD: "missed"}


def test_taking_back_a_whole_outage_leaves_an_earlier_one_as_it_was() -> None:
    log = log_of(PADS)
    log.down("1", local("2026-09-13 12:00"))
    log.up("1", local("2026-09-13 13:00"))
    began = log.down("1", local("2026-09-15 12:00"))
    ended = log.up("1", local("2026-09-15 12:05"))
    log.undo(began, local("2026-09-15 12:06"))
    log.undo(ended, local("2026-09-15 12:06"))
    assert log.judged(TUESDAY).of == {PAD: "missed"}


def test_what_was_done_all_the_same_counts_as_done() -> None:
    log = log_of(PADS)
    log.down("1", local("2026-09-15 18:00"))
    log.done("pad_change", "1", local("2026-09-15 21:40"))
    assert log.judged(TUESDAY).of == {PAD: "on_time"}


# --- duties that stay open until they are done ---


def test_a_weekly_duty_done_within_grace_on_its_day_is_on_time() -> None:
    log = log_of(HOOD)
    log.done("hood_filters", None, local("2026-09-12 21:00"))
    log.done("hood_filters", None, local("2026-09-13 21:30"))
    assert log.judged(SUNDAY).of == {HOODS: "on_time"}


def overdue_since_sunday() -> Log:
    log = log_of(HOOD)
    log.done("hood_filters", None, local("2026-09-12 21:00"))
    return log


def test_an_overdue_duty_is_open_each_day_and_late_once_on_the_day_it_is_done() -> None:
    log = overdue_since_sunday()
    log.done("hood_filters", None, local("2026-09-16 18:00"))
    days = (SUNDAY, TUESDAY, WEDNESDAY, WEDNESDAY + ONE_DAY)
    assert [log.judged(day).of for day in days] == [{HOODS: "open"}, {HOODS: "open"}, {HOODS: "late"}, {}]


def test_an_overdue_duty_is_never_missed_however_long_it_takes() -> None:
    log = overdue_since_sunday()
    assert log.judged(date(2026, 10, 13)).of == {HOODS: "open"}


def test_an_overdue_duty_is_open_on_a_closed_day_too() -> None:
    log = overdue_since_sunday()
    assert log.judged(MONDAY).of == {HOODS: "open"}


def test_what_falls_due_after_a_closed_day_is_not_open_on_it() -> None:
    log = log_of(standing(Every("days", 7), last_done=date(2026, 9, 7)))
    assert log.judged(MONDAY).of == {}


def test_an_overdue_duty_that_is_done_on_a_closed_day_is_late_on_that_day() -> None:
    log = overdue_since_sunday()
    log.done("hood_filters", None, local("2026-09-14 12:00"))
    assert log.judged(MONDAY).of == {HOODS: "late"}
    assert log.judged(TUESDAY).of == {}


def test_done_late_on_the_next_due_day_it_closes_the_old_occurrence() -> None:
    log = overdue_since_sunday()
    done = log.done("hood_filters", None, local("2026-09-20 12:00"))
    assert (done.status, done.due_at) == ("late", local("2026-09-13 21:00"))
    assert log.judged(NEXT_SUNDAY).of == {HOODS: "late"}


def test_a_weekly_duty_is_not_due_on_other_days() -> None:
    log = log_of(HOOD)
    log.done("hood_filters", None, local("2026-09-13 21:00"))
    assert [log.judged(TUESDAY + n * ONE_DAY).of for n in range(5)] == [{}] * 5
    assert log.judged(NEXT_SUNDAY).of == {HOODS: "open"}


def test_the_31st_is_the_last_day_of_any_month() -> None:
    """30 September 2026 is a Wednesday."""
    log = log_of(standing(Every("month", on=31), last_done=date(2026, 8, 31)))
    assert log.judged(date(2026, 9, 29)).of == {}
    assert log.judged(date(2026, 9, 30)).of == {("boil_out", "1"): "open"}


def test_n_days_count_from_the_last_confirmation_and_doing_it_early_is_on_time() -> None:
    log = log_of(standing(Every("days", 5), last_done=date(2026, 9, 11)))
    done = log.done("boil_out", "1", local("2026-09-15 20:00"))
    assert (done.status, done.due_at) == ("on_time", local("2026-09-16 10:30"))
    assert log.judged(TUESDAY).of == {("boil_out", "1"): "on_time"}
    assert log.judged(date(2026, 9, 20)).of == {("boil_out", "1"): "open"}


def test_the_same_duty_of_n_days_twice_in_a_day_is_unscheduled_the_second_time() -> None:
    log = log_of(standing(Every("days", 5), last_done=date(2026, 9, 10)))
    log.done("boil_out", "1", local("2026-09-15 10:30"))
    assert log.done("boil_out", "1", local("2026-09-15 12:00")).status == "unscheduled"
    assert log.judged(TUESDAY).of == {("boil_out", "1"): "on_time"}


def test_one_that_falls_on_a_closed_day_is_due_on_the_next_open_day() -> None:
    log = log_of(standing(Every("days", 7), last_done=date(2026, 9, 7)))
    assert log.judged(SUNDAY).of == {}
    assert log.judged(TUESDAY, as_of=local("2026-09-15 10:29")).of == {}
    log.done("boil_out", "1", local("2026-09-15 11:00"))
    assert log.judged(TUESDAY).of == {("boil_out", "1"): "on_time"}


def test_without_a_last_time_it_is_due_on_the_first_open_day() -> None:
    log = log_of(standing(Every("days", 90)), began="2026-09-14 09:00")
    assert log.judged(TUESDAY).of == {("boil_out", "1"): "open"}


def test_a_standing_duty_is_excused_on_its_day_and_due_once_the_fryer_is_back() -> None:
    log = log_of(standing(Every("days", 5), last_done=date(2026, 9, 10)))
    log.down("1", local("2026-09-15 09:00"))
    log.up("1", local("2026-09-15 20:00"))
    assert log.judged(TUESDAY).of == {("boil_out", "1"): "excused"}
    log.done("boil_out", "1", local("2026-09-16 10:30"))
    assert log.judged(WEDNESDAY).of == {("boil_out", "1"): "on_time"}


@pytest.mark.parametrize(("when", "verdict"), [("13:30", "on_time"), ("13:31", "late")])
def test_the_grace_of_a_duty_of_n_drops_runs_from_the_drop_that_reaches_n(when: str, verdict: str) -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("1", 9, local("2026-09-15 12:00"))
    log.drops("1", 3, local("2026-09-15 13:00"))
    log.done("boil_out", "1", local(f"2026-09-15 {when}"))
    assert log.judged(TUESDAY).of == {("boil_out", "1"): verdict}


def test_a_duty_of_n_drops_stays_open_until_it_is_done() -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("1", 10, local("2026-09-15 12:00"))
    assert log.judged(TUESDAY).of == {("boil_out", "1"): "open"}
    log.done("boil_out", "1", local("2026-09-16 12:00"))
    assert log.judged(WEDNESDAY).of == {("boil_out", "1"): "late"}


def test_a_duty_of_n_drops_done_before_it_is_reached_is_unscheduled() -> None:
    log = log_of(standing(Every("drops", 10), at=None))
    log.drops("1", 9, local("2026-09-15 12:00"))
    assert log.done("boil_out", "1", local("2026-09-15 12:30")).status == "unscheduled"
    assert log.judged(TUESDAY).of == {}


# --- what is written down later, taken back, or judged by changed rules ---


def test_what_was_done_in_time_and_written_down_later_was_in_time() -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local("2026-09-15 21:40"), logged=local("2026-09-15 23:00"))
    assert log.judged(TUESDAY).of == {PAD: "on_time"}
    assert log.judged(TUESDAY, as_of=local("2026-09-15 22:30")).of == {PAD: "open"}


def test_written_down_the_day_after_it_still_counts_for_the_day_it_was_done() -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local("2026-09-15 21:40"), logged=local("2026-09-16 11:00"))
    assert log.judged(TUESDAY).of == {PAD: "missed"}
    assert log.judged(TUESDAY, as_of=local("2026-09-16 12:00")).of == {PAD: "on_time"}
    assert log.judged(WEDNESDAY).of == {PAD: "missed"}


def test_taken_back_it_was_not_done() -> None:
    log = log_of(PADS)
    mistake = log.done("pad_change", "1", local("2026-09-15 21:40"))
    log.undo(mistake.entry, local("2026-09-15 21:41"))
    assert log.judged(TUESDAY, as_of=local("2026-09-15 22:00")).of == {PAD: "open"}
    assert log.judged(TUESDAY).of == {PAD: "missed"}


def test_after_the_first_was_taken_back_the_second_closes_the_occurrence() -> None:
    log = log_of(PADS)
    first = log.done("pad_change", "1", local("2026-09-15 21:00"))
    log.done("pad_change", "1", local("2026-09-15 22:30"))
    log.undo(first.entry, local("2026-09-15 22:31"))
    assert log.judged(TUESDAY).of == {PAD: "late"}


def test_a_standing_duty_is_overdue_again_once_its_confirmation_is_taken_back() -> None:
    log = overdue_since_sunday()
    mistake = log.done("hood_filters", None, local("2026-09-15 18:00"))
    log.undo(mistake.entry, local("2026-09-15 18:01"))
    assert [log.judged(day).of for day in (TUESDAY, WEDNESDAY)] == [{HOODS: "open"}] * 2


def test_days_before_a_change_of_the_rules_are_judged_by_the_old_ones() -> None:
    log = log_of(PADS)
    log.done("pad_change", "1", local("2026-09-13 21:50"))
    log.rules_change(kitchen(daily("pad_change", "20:00", ("1",))), local("2026-09-15 12:00"))
    assert log.judged(SUNDAY).of == {PAD: "on_time"}
    log.done("pad_change", "1", local("2026-09-15 21:50"))
    assert log.judged(TUESDAY).of == {PAD: "late"}


def test_a_duty_that_joins_the_file_at_noon_counts_the_same_evening() -> None:
    log = log_of()
    log.rules_change(kitchen(PADS), local("2026-09-15 12:00"))
    assert log.done("pad_change", "1", local("2026-09-15 21:30")).status == "on_time"
    assert log.judged(TUESDAY).of == {PAD: "on_time"}


def test_a_duty_that_leaves_the_file_at_noon_is_not_missed_the_same_evening() -> None:
    log = log_of(PADS)
    log.rules_change(kitchen(), local("2026-09-15 12:00"))
    assert log.judged(TUESDAY).of == {}


def test_a_day_before_the_log_began_has_no_report() -> None:
    log = log_of(PADS)
    assert judge_day(log.state, date(2026, 9, 11), local("2026-09-15 12:00")) is None


# --- laws ---


def test_the_rate_leaves_out_what_is_excused_or_open() -> None:
    tally = Tally(on_time=6, late=1, missed=1, excused=5, open=3)
    assert (tally.due, tally.judged, tally.rate) == (16, 8, 0.75)
    assert (Tally(excused=2).rate, Tally(excused=2).interval) == (None, None)


START = local("2026-09-15 00:00")
instants = st.integers(0, 9 * 24 * 60).map(lambda minutes: START + timedelta(minutes=minutes))
ACROSS = [TUESDAY + n * ONE_DAY for n in range(10)]


@st.composite
def logs(draw: st.DrawFn) -> Log:
    """A log of daily and weekly duties and some of every few days, with outages, in any order people may live."""
    few_days = Duty(
        "seal_replacement", Every("days", 3), time(12), ("1", "2"), timedelta(minutes=30), timedelta(minutes=60)
    )
    log = log_of(daily("pad_change", "21:30", ("1", "2")), HOOD, few_days, began="2026-09-14 00:00")
    deeds = st.sampled_from(["pad_change", "hood_filters", "seal_replacement", "down", "up"])
    for at, deed, fryer in sorted(draw(st.lists(st.tuples(instants, deeds, st.sampled_from("12")), max_size=40))):
        if deed in ("down", "up"):
            # As the helper has it: what is down already does not go down again.
            if log.state.out_of_service(fryer, at) == (deed == "up"):
                log.down(fryer, at) if deed == "down" else log.up(fryer, at)
        else:
            log.done(deed, None if deed == "hood_filters" else fryer, at)
    return log


def statuses(log: Log) -> Counter[str]:
    return Counter(c.status for turn in log.turns for c in turn.changes if isinstance(c, Confirmed))


@settings(max_examples=80)
@given(logs(), instants)
def test_due_is_the_sum_of_its_parts_for_the_day_each_duty_and_each_fryer(log: Log, as_of: datetime) -> None:
    for day in ACROSS:
        report = log.judged(day, as_of).report
        for tally in (report.total, *report.by_duty().values(), *report.by_fryer().values()):
            assert tally.due == tally.on_time + tally.late + tally.missed + tally.excused + tally.open
        assert report.total.due == len(report.judged) == sum(t.due for t in report.by_duty().values())


@settings(max_examples=80)
@given(logs())
def test_every_confirmation_that_closes_an_occurrence_is_counted_once_as_its_record_says(log: Log) -> None:
    """Over all days, on time and late are as many as the records on time and late."""
    verdicts = Counter(verdict for day in ACROSS for verdict in log.judged(day).of.values())
    told = statuses(log)
    assert (verdicts["on_time"], verdicts["late"]) == (told["on_time"], told["late"])


@settings(max_examples=80)
@given(logs(), st.integers(0, 10**6))
def test_a_day_that_is_over_is_judged_the_same_ever_after(log: Log, minutes: int) -> None:
    """Where nothing is written down for it any more."""
    for day in ACROSS:
        later = log.days.day_end(day) + timedelta(minutes=minutes)
        assert log.judged(day, later).of == log.judged(day).of


@settings(max_examples=80)
@given(logs())
def test_only_daily_duties_are_missed_and_none_of_a_day_that_is_over_is_open(log: Log) -> None:
    for day in ACROSS:
        for (duty, _), verdict in log.judged(day).of.items():
            assert verdict != ("open" if duty == "pad_change" else "missed")
