"""The summary of a kitchen day as data: the contract's keys, and figures that add up."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime, time, timedelta

import pytest
from hypothesis import given, settings, strategies as st

from bot.core import records as r
from bot.core.calendar import calendar
from bot.reports.summary import DayNotLoggedError, as_csv, as_json
from tests.reports.reportkit import DAY, Log, daily, month_of_work, rules

FIGURES = ["due", "on_time", "late", "missed", "excused", "rate", "rate_low", "rate_high"]
RULES = rules(duties=(daily("pad_change", "15:00", ("1", "2", "3")), daily("fire_check", "16:00", None)))
DAYS = calendar(RULES)


def local(hour: int, minute: int = 0, day: date = DAY) -> datetime:
    return DAYS.instant(day, time(hour, minute))


AFTER = DAYS.day_end(DAY)


def afternoon() -> Log:
    """Fryer 1 on time, 2 late, 3 out of service; the check of the whole kitchen not done."""
    log = Log(RULES, local(10))
    log.add(local(14), r.OutageBegan(log.entry(), "3", "maya"))
    log.done("pad_change", "1", local(15, 30))
    log.done("pad_change", "2", local(15, 31), by="rosa")
    return log


def test_it_has_exactly_the_keys_of_the_contract_in_its_order() -> None:
    summary = as_json(afternoon().state, DAY, AFTER)
    assert list(summary) == ["kitchen", "date", *FIGURES, "by_duty", "by_fryer", "open", "flags"]
    assert all(set(group) == {*FIGURES, "open"} for group in summary["by_duty"].values())
    assert all(set(group) == {*FIGURES, "open"} for group in summary["by_fryer"].values())


def test_it_counts_each_verdict_once() -> None:
    summary = as_json(afternoon().state, DAY, AFTER)
    assert (summary["kitchen"], summary["date"]) == ("Lantern Street Kitchen", "2026-09-15")
    assert [summary[name] for name in FIGURES[:5]] == [4, 1, 1, 1, 1]
    assert summary["rate"] == pytest.approx(1 / 3)
    assert summary["open"] == []


def test_it_splits_by_duty_and_by_fryer_and_counts_the_whole_kitchen_under_no_fryer() -> None:
    summary = as_json(afternoon().state, DAY, AFTER)
    assert {duty: group["due"] for duty, group in summary["by_duty"].items()} == {"pad_change": 3, "fire_check": 1}
    assert {fryer: group["rate"] for fryer, group in summary["by_fryer"].items()} == {
        "1": 1.0,
        "2": 0.0,
        "3": None,
    }


def test_what_is_due_and_not_done_is_open_while_the_day_runs() -> None:
    summary = as_json(afternoon().state, DAY, local(16, 10))
    assert summary["open"] == [{"duty": "fire_check", "fryer": None, "due_at": "2026-09-15T16:00:00-04:00"}]
    assert summary["missed"] == 0


def test_the_rate_is_null_where_nothing_was_judged() -> None:
    summary = as_json(Log(RULES, local(10)).state, DAY, local(11))
    assert [summary[name] for name in ("due", "rate", "rate_low", "rate_high")] == [0, None, None, None]


def test_a_closed_day_has_nothing_due() -> None:
    log = Log(RULES, local(10, day=DAY - timedelta(days=3)))
    summary = as_json(log.state, DAY - timedelta(days=1), AFTER)
    assert (summary["due"], summary["by_duty"], summary["open"]) == (0, {}, [])


def test_a_day_before_the_log_began_is_refused() -> None:
    with pytest.raises(DayNotLoggedError, match="2026-09-12"):
        as_json(afternoon().state, date(2026, 9, 12), AFTER)


def test_the_csv_has_one_record_for_each_duty_that_was_judged() -> None:
    records = list(csv.DictReader(io.StringIO(as_csv(afternoon().state, DAY, AFTER), newline="")))
    assert [(row["duty"], row["fryer"], row["verdict"], row["by"]) for row in records] == [
        ("pad_change", "1", "on_time", "ben"),
        ("pad_change", "2", "late", "rosa"),
        ("pad_change", "3", "excused", ""),
        ("fire_check", "", "missed", ""),
    ]
    assert {row["date"] for row in records} == {"2026-09-15"}
    assert [row["due_at"] for row in records][3] == "2026-09-15T16:00:00-04:00"
    assert [row["done_at"] for row in records] == [
        "2026-09-15T15:30:00-04:00",
        "2026-09-15T15:31:00-04:00",
        "",
        "",
    ]


@settings(max_examples=40)
@given(st.integers(0, 1000), st.integers(0, 23), st.integers(0, 6))
def test_the_figures_add_up(seed: int, hour: int, back: int) -> None:
    """Due is the sum of its parts, and the duties' figures add up to the day's, at any hour of any day."""
    log = month_of_work(rules(count=4), seed=seed, days=7, share_on_time=0.5)
    day = DAY - timedelta(days=back)
    summary = json.loads(json.dumps(as_json(log.state, day, local(hour, day=day))))
    open_count = len(summary["open"])
    assert summary["due"] == sum(summary[name] for name in FIGURES[1:5]) + open_count
    for name in FIGURES[:5]:
        assert summary[name] == sum(group[name] for group in summary["by_duty"].values())
    judged = summary["on_time"] + summary["late"] + summary["missed"]
    assert (summary["rate"] is None) == (judged == 0)
    if judged:
        assert summary["rate"] == summary["on_time"] / judged
        assert 0 <= summary["rate_low"] <= summary["rate"] <= summary["rate_high"] <= 1
    rows = list(csv.DictReader(io.StringIO(as_csv(log.state, day, local(hour, day=day)), newline="")))
    assert len(rows) == summary["due"]
