"""Flags: patterns that a manager may want to ask about, with their rule and figures, and nothing beyond that."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, strategies as st

from bot.content.catalogue import load_content
from bot.core.compliance import judge_day
from bot.core.flags import Flag, flags
from bot.core.records import Confirmed
from bot.core.scene import Scene
from bot.core.summary import summary
from bot.reports.summary import as_json
from tests.core.daylog import Log
from tests.core.stage import LIBRARY, daily, kitchen, local

TUESDAY = date(2026, 9, 15)
DUTIES = [daily(f"duty_{n}", "18:00", None) for n in range(6)]
FILTER = daily("closing_filter", "22:15", ("1", "2"))


def log_of(*duties: object, began: str = "2026-09-08 09:00") -> Log:
    return Log(kitchen(*duties), local(began))  # type: ignore[arg-type]


def flags_of(log: Log, day: date = TUESDAY, as_of: datetime | None = None) -> tuple[Flag, ...]:
    return flags(log.state, log.days, day, as_of or log.days.day_end(day))


def taps(log: Log, count: int, apart: timedelta, first: str = "2026-09-15 18:00", by: str = "ben") -> None:
    for n in range(count):
        log.done(f"duty_{n}", None, local(first) + n * apart, by=by)


# --- many at once ---


def test_five_taps_within_a_minute_are_flagged_with_who_how_many_and_when() -> None:
    log = log_of(*DUTIES)
    taps(log, 5, timedelta(seconds=15))
    assert flags_of(log) == (Flag("many_at_once", "ben", 5, since=local("2026-09-15 18:00")),)


@pytest.mark.parametrize(("count", "seconds"), [(4, 1), (5, 16), (6, 20)])
def test_fewer_or_slower_taps_are_not(count: int, seconds: int) -> None:
    log = log_of(*DUTIES)
    taps(log, count, timedelta(seconds=seconds))
    assert flags_of(log) == ()


def test_many_duties_in_one_message_are_one_honest_message() -> None:
    log = log_of(*DUTIES)
    at = local("2026-09-15 18:00")
    log.add(at, *(Confirmed(n, f"duty_{n}", None, at, at, "on_time", "ben") for n in range(6)))
    assert flags_of(log) == ()


def test_two_people_at_work_together_are_not_one_in_a_hurry() -> None:
    log = log_of(*DUTIES)
    taps(log, 3, timedelta(seconds=5))
    for n in range(3, 6):
        log.done(f"duty_{n}", None, local("2026-09-15 18:00:30"), by="rosa")
    assert flags_of(log) == ()


def test_what_was_taken_back_does_not_count() -> None:
    log = log_of(*DUTIES)
    taps(log, 5, timedelta(seconds=5))
    log.undo(3, local("2026-09-15 18:01"))
    assert flags_of(log) == ()


# --- the last minutes of the day ---


def last_minute_days(log: Log, days: list[int], at: str = "23:55", count: int = 4, earlier: int = 1) -> None:
    """September days on which ``count`` duties are confirmed at ``at`` and ``earlier`` ones at 18:00."""
    for day in days:
        for n in range(count + earlier):
            wall = at if n < count else "18:00"
            log.done(f"duty_{n}", None, local(f"2026-09-{day:02} {wall}") + n * timedelta(seconds=30))


def test_three_of_seven_days_confirmed_at_the_very_end_are_flagged() -> None:
    log = log_of(*DUTIES)
    last_minute_days(log, [10, 12, 15])
    assert flags_of(log) == (Flag("last_minutes", "ben", 3, of=7),)


@pytest.mark.parametrize(
    ("days", "at", "count", "earlier"),
    [
        ([10, 15], "23:55", 4, 1),
        ([10, 12, 15], "23:40", 4, 1),
        ([10, 12, 15], "23:55", 3, 1),
        ([8, 10, 15], "23:55", 4, 1),
    ],
)
def test_two_days_or_earlier_hours_or_a_smaller_share_or_a_longer_span_are_not(
    days: list[int], at: str, count: int, earlier: int
) -> None:
    log = log_of(*DUTIES, began="2026-09-01 09:00")
    last_minute_days(log, days, at, count, earlier)
    assert flags_of(log) == ()


def test_a_duty_that_falls_due_in_those_minutes_belongs_there() -> None:
    log = log_of(daily("duty_0", "23:52", None))
    last_minute_days(log, [10, 12, 15], count=1, earlier=0)
    assert flags_of(log) == ()


# --- drops after the closing filter ---


def test_drops_counted_after_the_closing_filter_of_that_fryer_are_flagged() -> None:
    log = log_of(FILTER)
    log.done("closing_filter", "1", local("2026-09-15 21:40"))
    log.drops("1", 12, local("2026-09-15 21:55"))
    log.drops("1", 3, local("2026-09-15 22:05"))
    log.drops("2", 9, local("2026-09-15 22:05"))
    assert flags_of(log) == (Flag("drops_after_filter", "ben", 15, fryer="1", since=local("2026-09-15 21:40")),)


def test_filtering_again_after_the_last_drop_settles_it() -> None:
    log = log_of(FILTER)
    log.done("closing_filter", "1", local("2026-09-15 21:40"))
    log.drops("1", 12, local("2026-09-15 21:55"))
    log.done("closing_filter", "1", local("2026-09-15 22:20"))
    log.drops("1", 4, local("2026-09-16 11:00"))
    assert flags_of(log) == ()


def test_a_flag_is_raised_only_from_when_its_pattern_is_there() -> None:
    log = log_of(FILTER)
    log.done("closing_filter", "1", local("2026-09-15 21:40"))
    log.drops("1", 12, local("2026-09-15 21:55"))
    assert flags_of(log, as_of=local("2026-09-15 21:54")) == ()
    assert len(flags_of(log, as_of=local("2026-09-15 21:55"))) == 1


# --- laws and what is read ---


@given(st.lists(st.integers(0, 3600), max_size=12))
def test_a_burst_is_flagged_exactly_where_some_minute_holds_five(seconds: list[int]) -> None:
    log = log_of(*DUTIES)
    for n, second in enumerate(sorted(seconds)):
        log.done(f"duty_{n % 6}", None, local("2026-09-15 18:00") + timedelta(seconds=second))
    full = any(
        sum(first <= s <= first + 60 for s in seconds) >= 5
        and len({s for s in seconds if first <= s <= first + 60}) > 1
        for first in seconds
    )
    assert any(flag.flag == "many_at_once" for flag in flags_of(log)) == full


def test_the_summary_states_the_rule_and_the_figures_and_accuses_nobody() -> None:
    log = log_of(*DUTIES, FILTER)
    taps(log, 5, timedelta(seconds=10))
    log.done("closing_filter", "1", local("2026-09-15 21:40"))
    log.drops("1", 12, local("2026-09-15 21:55"))
    as_of = log.days.day_end(TUESDAY)
    report = judge_day(log.state, TUESDAY, as_of)
    assert report is not None
    content, scene = load_content(), Scene(log.kitchen, LIBRARY, log.state, as_of)
    lines = [
        words for words in summary(scene, report) if words.id in ("summary.many_at_once", "summary.drops_after_filter")
    ]
    said = [content.wording.render(words, "en", log.kitchen, as_of) for words in lines]
    assert "Ben confirmed 5 duties within 1 min" in said[0]
    assert said[1].startswith("To look at: 12 drops counted on fryer 1 after its closing filter")
    for line in said:
        assert not any(word in line.lower() for word in ("fake", "cheat", "false", "lie"))


def test_json_gives_each_flag_with_its_figures_and_nothing_empty() -> None:
    log = log_of(FILTER)
    log.done("closing_filter", "1", local("2026-09-15 21:40"))
    log.drops("1", 12, local("2026-09-15 21:55"))
    assert as_json(log.state, TUESDAY, local("2026-09-15 23:00"))["flags"] == [
        {
            "flag": "drops_after_filter",
            "by": "ben",
            "count": 12,
            "fryer": "1",
            "since": "2026-09-15T21:40:00-04:00",
        }
    ]


def test_no_log_has_no_flags() -> None:
    assert flags_of(log_of(*DUTIES), as_of=datetime(2026, 9, 15, 20, tzinfo=UTC)) == ()
