"""Worse than usual is said only where a control chart signals it."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from bot.core.compliance import Tally, judge_day
from bot.core.trend import WINDOW, Trend, stands_out, trend
from tests.core.daylog import Log
from tests.core.stage import Stage, daily, ids, kitchen, local, params

LAST = date(2026, 9, 13)
"""A Sunday."""
DUTIES = tuple(daily(f"duty_{n}", f"{12 + n}:00", None) for n in range(8))


def log_with(shares: tuple[float, float], seed: int = 1, last_days: int = WINDOW, late: int = 40) -> Log:
    """Eight weeks of eight duties a day: on time with the first chance, in the last days with the second."""
    chance = random.Random(seed)
    first = LAST - timedelta(days=2 * WINDOW - 1)
    log = Log(kitchen(*DUTIES), local(f"{first} 00:30"))
    for back in range(2 * WINDOW - 1, -1, -1):
        day = LAST - timedelta(days=back)
        if not log.days.is_open(day):
            continue
        share = shares[1] if back < last_days else shares[0]
        for duty in DUTIES:
            assert duty.at is not None
            due = log.days.at(day, duty.at)
            log.done(duty.id, None, due if chance.random() < share else due + timedelta(minutes=late))
    return log


def found_in(log: Log) -> Trend:
    return trend(log.state, LAST, log.days.day_end(LAST))


def test_a_lasting_fall_is_called_worse_and_a_lasting_rise_better() -> None:
    assert found_in(log_with((0.95, 0.75))).shift == "worse"
    assert found_in(log_with((0.75, 0.97))).shift == "better"


def test_a_steady_kitchen_is_hardly_ever_called_anything_else() -> None:
    """Twenty steady kitchens: at most one of them may look otherwise by chance."""
    signals = [found_in(log_with((0.9, 0.9), seed)).shift for seed in range(20)]
    assert sum(shift is not None for shift in signals) <= 1


def test_one_bad_day_is_no_trend_but_may_stand_out() -> None:
    log = log_with((0.95, 0.95))
    usual = found_in(log).recent
    assert stands_out(usual, Tally(on_time=4, missed=4))
    assert not stands_out(usual, Tally(on_time=7, missed=1))
    assert not stands_out(Tally(), Tally(missed=5))


def test_four_spotless_weeks_do_not_turn_one_slip_into_an_alarm() -> None:
    assert found_in(log_with((1.0, 0.98))).shift is None


def test_a_young_log_says_nothing_of_what_is_usual() -> None:
    log = Log(kitchen(*DUTIES), local("2026-09-01 09:00"))
    assert found_in(log).shift is None


def test_lateness_is_the_median_of_what_was_late() -> None:
    assert found_in(log_with((0.9, 0.5), late=47)).late_by == timedelta(minutes=47)
    assert found_in(log_with((0.9, 1.0))).late_by is None


def test_each_weekday_has_its_own_figure_and_a_closed_one_has_none() -> None:
    by_weekday = found_in(log_with((0.9, 0.9))).by_weekday
    assert by_weekday[0].judged == 0
    assert [tally.judged for tally in by_weekday[1:]] == [4 * len(DUTIES)] * 6


# --- as the managers read it ---


def stage_of(log: Log, now: str) -> Stage:
    s = Stage(log.kitchen, local(now))
    s.state = log.state
    # What came up before then is said, and out of the way.
    s.off_until(s.now)
    return s


def test_the_week_is_summed_up_at_its_first_opening_for_the_managers() -> None:
    s = stage_of(log_with((0.95, 0.7)), "2026-09-14 09:00")
    # Monday is closed, so the week is summed up on Tuesday.
    assert "period.verdict" not in ids(s.until(local("2026-09-15 09:59")))
    seen = s.until(local("2026-09-15 10:00"))
    replies = [reply for reply in seen if reply.kind == "summary" and "period.verdict" in ids([reply])]
    assert [reply.to for reply in replies] == ["omar"]
    assert ids(replies)[:2] == ["period.verdict", "period.worse"]
    assert (params(replies, "period.verdict")["from"], params(replies, "period.verdict")["to"]) == (
        date(2026, 9, 7), LAST,
    )  # fmt: skip
    assert len(replies[0].lines) <= 18
    assert "period.verdict" not in ids(s.until(local("2026-09-15 12:00")))


def test_the_month_is_summed_up_on_the_first() -> None:
    s = stage_of(log_with((0.95, 0.95)), "2026-09-30 23:00")
    assert "period.verdict" not in ids(s.until(local("2026-10-01 09:59")))
    replies = [reply for reply in s.until(local("2026-10-01 10:00")) if "period.verdict" in ids([reply])]
    assert [params([reply], "period.verdict")["to"] for reply in replies] == [date(2026, 9, 30)]
    assert params(replies, "period.verdict")["from"] == date(2026, 9, 1)


def test_no_summary_of_a_week_before_the_log_began() -> None:
    s = Stage(kitchen(*DUTIES), local("2026-09-15 09:00"))
    assert "period.verdict" not in ids(s.until(local("2026-09-19 23:00")))


def test_a_summary_of_the_week_that_was_missed_is_in_the_catch_up() -> None:
    s = stage_of(log_with((0.95, 0.95)), "2026-09-14 09:00")
    replies = s.off_until(local("2026-09-15 13:00"))
    assert "period.verdict" in ids([reply for reply in replies if reply.kind == "catch_up"], "omar")


def test_a_bad_day_is_explained_by_what_is_usual_and_by_its_weekday() -> None:
    log = log_with((0.95, 0.95))
    day = date(2026, 9, 15)
    log.done("duty_0", None, local("2026-09-15 12:00"))
    s = stage_of(log, "2026-09-16 11:00")
    replies = s.say("omar", "ask.summary", days_ago=1)
    assert ids(replies, "omar")[-2:] == ["period.stands_out", "period.weekday"]
    assert params(replies, "period.stands_out")["on"] == day
    report = judge_day(log.state, day, local("2026-09-16 11:00"))
    assert report is not None and report.total.missed == 7


def test_asked_how_it_went_there_are_buttons_for_the_week_and_the_month() -> None:
    s = stage_of(log_with((0.95, 0.95)), "2026-09-15 11:00")
    s.say("omar", "ask.summary")
    assert ids(s.press("omar", "button.week"))[0] in ("period.verdict", "period.nothing")
    assert ids(s.press("omar", "button.month"))[0] == "period.verdict"


@pytest.mark.parametrize(
    ("now", "weekday", "meant"),
    [
        ("2026-09-16 11:00", 1, date(2026, 9, 15)),
        ("2026-09-15 11:00", 1, date(2026, 9, 8)),
        ("2026-09-15 11:00", 2, date(2026, 9, 9)),
    ],
)
def test_a_weekday_is_the_last_one_before_today(now: str, weekday: int, meant: date) -> None:
    s = stage_of(log_with((0.95, 0.95)), now)
    replies = s.say("omar", "ask.summary", weekday=weekday)
    assert replies[0].lines[0].params["on"] == meant
    assert "period.weekday" in ids(replies)


@pytest.mark.parametrize(
    ("period", "first", "last"),
    [
        ("this_week", date(2026, 9, 14), date(2026, 9, 16)),
        ("last_week", date(2026, 9, 7), date(2026, 9, 13)),
        ("this_month", date(2026, 9, 1), date(2026, 9, 16)),
        ("last_month", date(2026, 8, 1), date(2026, 8, 31)),
    ],
)
def test_a_week_or_month_is_summed_up_when_it_is_named(period: str, first: date, last: date) -> None:
    s = stage_of(log_with((0.95, 0.95)), "2026-09-16 11:00")
    said = s.say("omar", "ask.summary", period=period)[0].lines[0].params
    assert (said["from"], said["to"]) == (first, last)


def test_the_nightly_summarys_details_say_how_the_day_compares() -> None:
    log = log_with((0.95, 0.95))
    log.done("duty_0", None, local("2026-09-15 12:00"))
    s = stage_of(log, "2026-09-15 13:00")
    (nightly,) = [reply for reply in s.until(local("2026-09-15 22:30")) if reply.kind == "summary"]
    assert "period.weekday" not in ids([nightly])
    assert "period.weekday" in ids(s.press("omar", "button.more"))


def test_a_month_before_the_log_began_is_said_to_have_no_record() -> None:
    s = Stage(kitchen(*DUTIES), local("2026-09-15 09:00"))
    assert ids(s.say("omar", "ask.summary", period="last_month")) == ["period.no_record"]
