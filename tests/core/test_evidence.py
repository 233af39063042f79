"""What the log shows that bears on a fault, and when it shows nothing."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest

from bot.core.evidence import FACTS, evidence
from bot.core.kitchen import Duty, Every, Kitchen
from bot.core.messages import Words
from bot.core.records import (
    Change,
    Confirmed,
    OutageBegan,
    OutageEnded,
    ReadingTaken,
    ResetTried,
    Turn,
    Undone,
    WaitEnded,
    WaitStarted,
)
from tests.core.stage import Stage, daily, kitchen, local

GRACE = timedelta(minutes=30)


def every(days: int, duty: str, at: str, last_done: str | None = None) -> Duty:
    hour, minute = at.split(":")
    last = date.fromisoformat(last_done) if last_done is not None else None
    return Duty(duty, Every("days", days), time(int(hour), int(minute)), ("1", "2", "3"), GRACE, 2 * GRACE, last)


class Log(Stage):
    """A stage whose log is written by hand; fryer 2 unless told otherwise."""

    def wrote(self, at: str, change: Change) -> Log:
        self.now = local(at)
        self.state.apply(Turn(self.state.seq + 1, self.now, (change,)))
        return self

    def did(self, duty: str, at: str, fryer: str | None = "2") -> Log:
        entry = self.state.entries + 1
        return self.wrote(at, Confirmed(entry, duty, fryer, local(at), None, "unscheduled", "ben"))

    def facts(self, at: str, fryer: str = "2") -> dict[str, Words]:
        return evidence(self.state, self.kitchen, fryer, local(at))


def log(*duties: Duty, began: str = "2026-09-01 09:00", **changes: object) -> Log:
    # 2026-09-01 is a Tuesday; this kitchen is closed on Mondays.
    made: Kitchen = kitchen(*duties, **changes)
    return Log(made, local(began))


def test_an_empty_log_of_a_kitchen_without_duties_shows_nothing() -> None:
    assert log().facts("2026-11-01 12:00") == {}


def test_a_pad_from_the_day_before_is_fine_and_one_from_two_open_days_ago_is_not() -> None:
    pad = log().did("pad_change", "2026-09-15 21:30")
    assert "pad_not_changed_2_days" not in pad.facts("2026-09-16 20:00")
    assert pad.facts("2026-09-17 12:00")["pad_not_changed_2_days"] == Words(
        "why.pad_not_changed_2_days", {"on": date(2026, 9, 15)}
    )


def test_closed_days_do_not_age_the_pad() -> None:
    pad = log().did("pad_change", "2026-09-13 21:30")  # Sunday; closed on Monday
    assert "pad_not_changed_2_days" not in pad.facts("2026-09-15 20:00")
    assert "pad_not_changed_2_days" in pad.facts("2026-09-16 12:00")


def test_a_pad_that_was_never_logged_counts_only_where_it_is_scheduled_and_the_log_is_old_enough() -> None:
    scheduled = log(daily("pad_change", "21:30", ("1", "2", "3")), began="2026-09-15 09:00")
    assert "pad_not_changed_2_days" not in scheduled.facts("2026-09-16 12:00")
    assert scheduled.facts("2026-09-17 12:00")["pad_not_changed_2_days"] == Words(
        "why.never.pad_not_changed_2_days", {"on": date(2026, 9, 15)}
    )
    assert "pad_not_changed_2_days" not in log().facts("2026-09-17 12:00")


def test_an_undone_confirmation_is_no_confirmation() -> None:
    pad = log().did("pad_change", "2026-09-15 21:30").did("pad_change", "2026-09-17 11:00")
    assert "just_changed_pad_today" in pad.facts("2026-09-17 12:00")
    pad.wrote("2026-09-17 11:30", Undone(2, "ben"))
    assert {"pad_not_changed_2_days"} == set(pad.facts("2026-09-17 12:00"))


def test_another_fryers_pad_says_nothing_but_the_whole_kitchens_does() -> None:
    assert log().did("pad_change", "2026-09-15 21:30", fryer="1").facts("2026-09-20 12:00") == {}
    assert "pad_not_changed_2_days" in log().did("pad_change", "2026-09-15 21:30", None).facts("2026-09-20 12:00")


def test_seals_are_past_their_time_on_the_day_after_the_ninetieth() -> None:
    seals = log(every(90, "seal_replacement", "10:30", "2026-07-01"))
    assert "seals_past_90_days" not in seals.facts("2026-09-29 12:00")
    assert seals.facts("2026-09-30 12:00")["seals_past_90_days"].params == {"on": date(2026, 7, 1)}


def test_oil_is_old_after_more_than_ten_days() -> None:
    oil = log().did("oil_change", "2026-09-05 22:00")
    assert "oil_old" not in oil.facts("2026-09-15 12:00")
    assert "oil_old" in oil.facts("2026-09-16 12:00")


def test_a_reservoir_is_due_from_its_due_time_until_it_is_swapped() -> None:
    jug = log(every(2, "reservoir_swap", "11:00", "2026-09-13"))
    assert "reservoir_due_or_empty" not in jug.facts("2026-09-15 10:59")
    assert jug.facts("2026-09-15 11:00")["reservoir_due_or_empty"].params == {"on": date(2026, 9, 15)}
    swapped = jug.did("reservoir_swap", "2026-09-15 12:00").facts("2026-09-15 13:00")
    assert set(swapped) == {"just_swapped_reservoir_today"}


def test_a_boil_out_is_overdue_after_its_grace() -> None:
    vat = log(every(14, "boil_out", "14:30", "2026-09-01"))
    assert "boil_out_overdue" not in vat.facts("2026-09-15 15:00")
    assert "boil_out_overdue" in vat.facts("2026-09-15 15:01")


def test_three_trips_in_a_week_count_resets_and_the_trip_whose_wait_runs() -> None:
    s = log()
    for day in (10, 12):
        s.wrote(f"2026-09-{day} 12:00", ResetTried("2", "high_limit", True, "ben"))
    assert "three_high_limit_trips_this_week" not in s.facts("2026-09-15 12:00")
    ends_at = local("2026-09-15 12:30")
    s.wrote("2026-09-15 12:00", WaitStarted("2", "high_limit", ends_at, "ben", "ben"))
    found = s.facts("2026-09-15 12:10")
    assert found["three_high_limit_trips_this_week"].params == {"n": 3}
    assert found["high_limit_tripped_today"].params == {"at": local("2026-09-15 12:00")}
    assert "three_high_limit_trips_this_week" not in s.facts("2026-09-15 12:10", fryer="1")
    assert "three_high_limit_trips_this_week" not in s.facts("2026-09-18 12:00")


def test_a_cancelled_wait_is_no_third_trip_and_one_with_its_reset_counts_once() -> None:
    s = log()
    for day in (10, 12):
        s.wrote(f"2026-09-{day} 12:00", ResetTried("2", "high_limit", True, "ben"))
    s.wrote("2026-09-15 12:00", WaitStarted("2", "high_limit", local("2026-09-15 12:30"), "ben", "ben"))
    s.wrote("2026-09-15 12:05", WaitEnded("2", "high_limit", "cancelled", "ben"))
    assert "three_high_limit_trips_this_week" not in s.facts("2026-09-15 12:10")
    s.wrote("2026-09-15 13:00", WaitStarted("2", "high_limit", local("2026-09-15 13:30"), "ben", "ben"))
    s.wrote("2026-09-15 13:30", WaitEnded("2", "high_limit", "finished"))
    s.wrote("2026-09-15 13:40", ResetTried("2", "high_limit", True, "ben"))
    assert s.facts("2026-09-15 13:50")["three_high_limit_trips_this_week"].params == {"n": 3}


def test_a_pump_that_tripped_today_is_known_until_the_kitchen_day_ends() -> None:
    s = log().wrote("2026-09-15 21:00", WaitStarted("2", "pump", local("2026-09-15 21:30"), "ben", "ben"))
    assert "pump_tripped_today" in s.facts("2026-09-15 23:59")
    assert "pump_tripped_today" not in s.facts("2026-09-16 00:01")


def test_a_missed_closing_filter_is_that_of_the_last_open_day() -> None:
    s = log(daily("closing_filter", "22:15", ("1", "2", "3")))
    s.did("closing_filter", "2026-09-12 22:20")
    found = s.facts("2026-09-15 12:00")  # Tuesday: Sunday's was missed, Monday was closed
    assert found["closing_filter_missed_yesterday"].params == {"on": date(2026, 9, 13)}
    s.did("closing_filter", "2026-09-15 22:20")
    assert s.facts("2026-09-16 12:00") == {}


def test_a_filter_due_before_the_log_began_or_while_out_of_service_was_not_missed() -> None:
    duty = daily("closing_filter", "22:15", ("1", "2", "3"))
    assert log(duty, began="2026-09-15 23:00").facts("2026-09-16 12:00") == {}
    down = log(duty).wrote("2026-09-15 20:00", OutageBegan(1, "2", "ben"))
    assert "closing_filter_missed_yesterday" not in down.facts("2026-09-16 12:00")
    assert "closing_filter_missed_yesterday" in down.facts("2026-09-16 12:00", fryer="1")


@pytest.mark.parametrize(("value", "over"), [(23.9, False), (24, True), (31, True)])
def test_an_oil_reading_counts_from_the_limit_on(value: float, over: bool) -> None:
    s = log().wrote("2026-09-15 16:30", ReadingTaken(1, "oil_test", "2", value, "percent", "ben"))
    assert ("oil_reading_over_limit" in s.facts("2026-09-15 18:00")) == over


def test_a_reading_is_void_after_a_better_one_an_undo_or_an_oil_change_and_without_a_limit() -> None:
    def read() -> Log:
        return log().wrote("2026-09-15 16:30", ReadingTaken(1, "oil_test", "2", 26, "percent", "ben"))

    better = read().wrote("2026-09-15 16:40", ReadingTaken(2, "oil_test", "2", 12, "percent", "ben"))
    undone = read().wrote("2026-09-15 16:40", Undone(1, "ben"))
    changed = read().did("oil_change", "2026-09-15 17:00")
    for s in (better, undone, changed):
        assert "oil_reading_over_limit" not in s.facts("2026-09-15 18:00")
    limitless = read()
    found = evidence(limitless.state, kitchen(polar_limit_percent=None), "2", local("2026-09-15 18:00"))
    assert set(found) == {"oil_reading_worn"}


def test_a_fryer_that_came_back_within_a_week_was_lately_in_other_hands() -> None:
    s = log().wrote("2026-09-10 12:00", OutageBegan(1, "2", "ben"))
    s.wrote("2026-09-11 12:00", OutageEnded(2, "2", "ben"))
    assert s.facts("2026-09-15 12:00")["recent_service"].params == {"on": date(2026, 9, 11)}
    assert "recent_service" not in s.facts("2026-09-18 12:00")


@pytest.mark.parametrize(
    ("duty", "fact"),
    [
        ("pad_change", "just_changed_pad_today"),
        ("seal_replacement", "just_changed_seals_today"),
        ("reservoir_swap", "just_swapped_reservoir_today"),
        ("boil_out", "just_boiled_out_today"),
        ("oil_change", "just_changed_oil_today"),
    ],
)
def test_what_was_just_changed_counts_until_the_kitchen_day_ends(duty: str, fact: str) -> None:
    s = log().did(duty, "2026-09-15 21:00")
    assert s.facts("2026-09-15 23:30")[fact] == Words(f"why.{fact}", {"at": local("2026-09-15 21:00")})
    assert fact not in s.facts("2026-09-16 11:00")
    assert fact in FACTS


@pytest.mark.parametrize(("value", "worn"), [(13.9, False), (14.0, True), (23.9, True), (24.0, False)])
def test_an_oil_reading_between_taste_and_limit_is_of_worn_oil(value: float, worn: bool) -> None:
    """14 % and 24 %: Foods 2023 12(2):316, and the kitchen's limit."""
    read = log().wrote("2026-09-15 12:00", ReadingTaken(1, "oil_test", "2", value, "percent", "ben"))
    assert ("oil_reading_worn" in read.facts("2026-09-15 13:00")) == worn


@pytest.mark.parametrize(
    ("value", "unit", "fact"),
    [
        (376.0, "F", "temperature_high_today"), (375.0, "F", None), (195.0, "C", "temperature_high_today"),
        (324.0, "F", "temperature_low_today"), (325.0, "F", None), (160.0, "C", "temperature_low_today"),
    ],
)  # fmt: skip
def test_a_temperature_beyond_the_usual_ones_counts_on_its_own_day(value: float, unit: str, fact: str | None) -> None:
    read = log().wrote("2026-09-15 12:00", ReadingTaken(1, "temperature", "2", value, unit, "ben"))
    assert set(read.facts("2026-09-15 13:00")) == ({fact} if fact is not None else set())
    assert set(read.facts("2026-09-16 14:00")) == set()


def test_around_opening_the_oil_may_be_cold_and_not_at_noon_nor_on_a_closed_day() -> None:
    assert "just_opened" in log().facts("2026-09-15 10:20")
    assert "just_opened" in log().facts("2026-09-15 09:30")
    assert "just_opened" not in log().facts("2026-09-15 12:00")
    assert "just_opened" not in log().facts("2026-09-14 10:20")


def test_a_filter_of_any_kind_today_is_a_filter_today() -> None:
    filtered = log().did("midshift_filter", "2026-09-15 15:00")
    assert "just_filtered_today" in filtered.facts("2026-09-15 16:00")
    assert "just_filtered_today" not in filtered.facts("2026-09-16 16:00")
