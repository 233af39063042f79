"""The nightly summary: the verdict first, the gravest next, a phone's screen at most, the rest on a tap."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, strategies as st

from bot.core.compliance import judge_day
from bot.core.kitchen import Duty, Every
from bot.core.messages import Words
from bot.core.records import FaultAsked, Turn
from bot.core.summary import SCREEN, Section, fitted
from tests.core.stage import Stage, daily, ids, kitchen, local, params

ALL = ("1", "2", "3")
BUSY = tuple(daily(f"duty_{n}", f"{11 + n}:00", ALL) for n in range(8))


def evening(*duties: Duty) -> Stage:
    return Stage(kitchen(*duties), local("2026-09-15 09:00"))


def nightly(s: Stage) -> list[str]:
    replies = [reply for reply in s.until(local("2026-09-15 22:30")) if reply.kind == "summary"]
    return ids(replies, "omar")


def test_it_fits_a_phone_whatever_went_wrong_and_the_rest_comes_on_a_tap() -> None:
    s = evening(*BUSY)
    lines = nightly(s)
    assert len(lines) <= SCREEN and "summary.and_more" in lines
    full = ids(s.press("omar", "button.more"))
    assert full.count("summary.undone_never_line") == 24 and "summary.and_more" not in full


def test_the_order_is_what_a_manager_acts_on_first() -> None:
    s = evening(daily("pad_change", "12:00", ("1", "2")), daily("oil_test", "13:00", ("2",)))
    s.now = local("2026-09-15 12:50")
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.say("ben", "log.oil_test", fryer="2", amount=24.5, unit="percent")
    s.say("ben", "log.out_of_service", fryer="3")
    s.say("ben", "cooldown.start", fryer="1", part="pump")
    s.say("ben", None, text="what about the dishwasher")
    s.say("ben", "log.note", note="handle is loose", text="handle is loose")
    s.say("ben", "emergency.burn")
    wanted = [
        "summary.so_far", "summary.incident", "summary.late", "summary.late_line", "summary.open",
        "summary.undone_never_line", "summary.down", "summary.wait", "summary.oil_change_tonight",
        "summary.unanswered", "summary.note",
    ]  # fmt: skip
    assert nightly(s) == wanted


def test_a_fryer_that_came_back_was_out_of_service_from_until_and_one_that_did_not_still_is() -> None:
    s = evening(daily("pad_change", "12:00", ("1", "2")))
    s.now = local("2026-09-15 12:10")
    s.say("ben", "log.out_of_service", fryer="1")
    s.say("ben", "log.out_of_service", fryer="2")
    s.now = local("2026-09-15 14:00")
    s.say("maya", "log.back_in_service", fryer="1")
    replies = [reply for reply in s.until(local("2026-09-15 22:30")) if reply.kind == "summary"]
    assert [name for name in ids(replies, "omar") if "down" in name] == ["summary.was_down", "summary.down"]
    assert params(replies, "summary.was_down")["until"] == local("2026-09-15 14:00")
    s.now = local("2026-09-16 11:00")
    assert "summary.still_down" in ids(s.say("omar", "ask.summary"))


def test_the_faults_that_were_asked_about_are_named_once_each() -> None:
    s = evening()
    s.now = local("2026-09-15 12:10")
    for n in range(2):
        s.state.apply(Turn(s.state.seq + 1, s.now + timedelta(minutes=n), (FaultAsked("fault.smoke", "2", "ben"),)))
    replies = s.say("omar", "ask.summary")
    (fault,) = params(replies, "summary.faults")["what"]
    assert (fault.params["fault"], fault.params["fryer"].params) == (Words("topic.fault.smoke"), {"id": "2"})


def test_a_day_with_open_duties_is_not_praised() -> None:
    s = evening(daily("pad_change", "12:00", ("1", "2")))
    s.now = local("2026-09-15 12:10")
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    assert nightly(s)[0] == "summary.so_far"


def test_a_day_without_a_slip_says_so_in_one_line() -> None:
    s = evening(daily("pad_change", "12:00", ("1",)))
    s.now = local("2026-09-15 12:10")
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    assert nightly(s) == ["summary.all_done"]


def test_what_is_due_tomorrow_beyond_the_daily_duties_is_named() -> None:
    boil_out = Duty(
        "boil_out", Every("days", 2), daily("x", "14:00", None).at, ("1",), timedelta(minutes=30),
        timedelta(minutes=60), date(2026, 9, 14),
    )  # fmt: skip
    s = evening(boil_out)
    s.until(local("2026-09-15 22:30"))
    (told,) = [reply for reply in s.out if reply.kind == "summary"]
    assert params([told], "summary.tomorrow")["on"] == date(2026, 9, 16)


def test_the_last_time_is_that_of_the_kitchen_file_where_nothing_was_logged_yet() -> None:
    hood = Duty(
        "hood_filters", Every("week", 1, "tuesday"), daily("x", "14:00", None).at, None, timedelta(minutes=30),
        timedelta(minutes=60), date(2026, 9, 8),
    )  # fmt: skip
    s = evening(hood)
    s.until(local("2026-09-15 22:30"))
    (told,) = [reply for reply in s.out if reply.kind == "summary"]
    assert params([told], "summary.undone_line")["last"] == date(2026, 9, 8)


def test_a_button_for_a_day_that_is_gone_or_to_come_says_so() -> None:
    s = evening(*BUSY)
    for action in ("more:2026-01-01", "more:2026-09-20"):
        assert ids(s.tap("omar", action)) == ["summary.not_kept"]
    for action in ("more:soon", "more:9999-12-31", "sum:year", "more"):
        assert ids(s.tap("omar", action)) == ["tap.stale"]


def test_yesterday_can_be_asked_for() -> None:
    s = evening(daily("pad_change", "12:00", ("1",)))
    s.until(local("2026-09-16 11:00"))
    replies = s.say("omar", "ask.summary", days_ago=1)
    report = judge_day(s.state, date(2026, 9, 15), s.now)
    assert report is not None and report.total.missed == 1
    assert params(replies, "summary.verdict")["on"] == date(2026, 9, 15)


@given(st.lists(st.tuples(st.integers(1, 30), st.booleans()), max_size=8), st.integers(10, 18))
def test_cutting_keeps_each_sort_and_counts_what_it_leaves_out(parts: list[tuple[int, bool]], room: int) -> None:
    sections = [
        Section(tuple(Words(f"line.{n}") for _ in range(count)), Words(f"head.{n}") if headed else None)
        for n, (count, headed) in enumerate(parts)
    ]
    lines = fitted(sections, room)
    least = sum(1 if headed or count == 1 else 2 for count, headed in parts)
    assert len(lines) <= max(room, least)
    for n in range(len(parts)):
        assert any(line.id in (f"line.{n}", f"head.{n}") for line in lines)
    more = sum(line.params["n"] for line in lines if line.id == "summary.and_more")
    shown = sum(line.id.startswith("line.") for line in lines)
    cut_to_heads = sum(
        count for n, (count, headed) in enumerate(parts) if headed and not any(x.id == f"line.{n}" for x in lines)
    )
    assert shown + more + cut_to_heads == sum(count for count, _ in parts)
