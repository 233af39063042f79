"""How long the oil lasts: the line through its tests, the day it names, and the advice."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, strategies as st

from bot.core import open_days, records as r
from bot.core.drop_pace import days_until, pace
from bot.core.forecast import OilLife, cost_a_day, oil_life
from bot.core.oil_fills import Fill, fills
from bot.core.robust_line import Guess, Known, crossing
from bot.core.scene import Scene
from tests.core.daylog import Log
from tests.core.stage import LIBRARY, Stage, ids, kitchen, local, params

TESTS = (("15 12:00", 8.0), ("16 12:00", 11.0), ("17 12:00", 14.0), ("18 12:00", 17.0))
"""Three points an open day: 24 % comes two open days and a third after the last."""


def log_of(*tests: tuple[str, float], **changes: object) -> Log:
    log = Log(kitchen(**changes), local("2026-09-01 09:00"))
    for when, percent in tests:
        log.add(local(f"2026-09-{when}"), r.ReadingTaken(log.entry(), "oil_test", "2", percent, "percent", "ben"))
    return log


def life(log: Log, now: str) -> OilLife:
    return oil_life(scene(log, now), "2")


def scene(log: Log, now: str) -> Scene:
    return Scene(log.kitchen, LIBRARY, log.state, local(f"2026-09-{now}"))


def current_fill(here: Scene, fryer: str) -> Fill:
    return fills(here, fryer)[-1]


def test_a_straight_growth_names_its_day_within_the_interval() -> None:
    found = life(log_of(*TESTS), "18 12:00").reach
    assert found is not None and found.late is not None
    assert found.per_day == pytest.approx(3)
    # Two open days on is Sunday noon, a third of a day later 16:00.
    assert abs(found.likely - local("2026-09-20 16:00")) < timedelta(minutes=1)
    assert found.early < found.likely < found.late


def test_closed_days_wear_no_oil() -> None:
    found = life(log_of(("16 12:00", 11), ("17 12:00", 13), ("18 12:00", 15)), "18 12:00").reach
    # Four and a half open days from Friday noon: over the closed Monday to Wednesday evening.
    assert found is not None
    assert abs(found.likely - local("2026-09-23 18:00")) < timedelta(minutes=1)


@pytest.mark.parametrize(
    ("tests", "why"),
    [
        ((), "too_few"),
        (TESTS[:2], "too_few"),
        ((("15 12:00", 8.0), ("15 12:10", 8.5), ("15 12:20", 9.0)), "too_few"),
        ((("15 12:00", 9.0), ("16 12:00", 8.5), ("17 12:00", 8.0)), "no_growth"),
    ],
)
def test_no_day_is_named_without_grounds_and_the_reason_is_given(
    tests: tuple[tuple[str, float], ...], why: str
) -> None:
    found = life(log_of(*tests), "18 12:00")
    assert (found.reach, found.why_not) == (None, why)


def test_without_a_limit_there_is_no_day() -> None:
    assert life(log_of(*TESTS, polar_limit_percent=None), "18 12:00").why_not == "no_limit"


def test_one_test_far_off_does_not_move_the_day_much() -> None:
    odd = (*TESTS[:2], ("16 18:00", 22.0), *TESTS[2:], ("19 12:00", 20.0))
    found = life(log_of(*odd), "19 12:00").reach
    assert found is not None
    assert abs(found.likely - local("2026-09-20 16:00")) < timedelta(hours=8)


def test_only_tests_of_the_oil_in_the_vat_count() -> None:
    log = log_of(*TESTS)
    log.done("oil_change", "2", local("2026-09-16 22:00"))
    assert [t.percent for t in current_fill(scene(log, "18 12:00"), "2").readings] == [14, 17]


def test_a_great_fall_is_taken_for_an_oil_change_that_nobody_logged() -> None:
    fill = current_fill(scene(log_of(*TESTS, ("19 12:00", 6.0)), "19 13:00"), "2")
    assert [t.percent for t in fill.readings] == [6]
    assert fill.fell_from is not None and fill.fell_from.percent == 17


def test_a_test_that_was_taken_back_counts_no_more() -> None:
    log = log_of(*TESTS)
    log.undo(4, local("2026-09-18 12:05"))
    assert life(log, "18 12:10").fill.readings[-1].percent == 14


@pytest.mark.parametrize(
    ("tests", "now", "advice"),
    [
        ((("15 12:00", 5.0), ("16 12:00", 6.0), ("17 12:00", 7.0)), "17 12:00", "keep"),
        (TESTS[:3], "17 12:00", "test_tomorrow"),
        ((*TESTS, ("19 12:00", 20.0)), "19 12:00", "change_tonight"),
        ((("15 12:00", 24.0),), "15 12:00", "change_tonight"),
        ((("15 12:00", 15.0),), "15 12:00", "test_tomorrow"),
        ((), "15 12:00", "keep"),
    ],
)
def test_the_advice_looks_ahead_to_the_end_of_the_next_open_day(
    tests: tuple[tuple[str, float], ...], now: str, advice: str
) -> None:
    assert life(log_of(*tests), now).advice == advice


def test_where_drops_are_counted_the_line_runs_over_them() -> None:
    """Twice the drops, twice the wear: after a quiet week the weekend comes at the weekend's pace."""
    log = log_of()
    for day in (15, 16, 17, 18):
        log.drops("2", 100, local(f"2026-09-{day} 18:00"))
        percent = 5 + 3 * (day - 14)
        at = local(f"2026-09-{day} 21:00")
        log.add(at, r.ReadingTaken(log.entry(), "oil_test", "2", percent, "percent", "ben"))
    log.drops("2", 200, local("2026-09-19 12:00"))
    by_drops = life(log, "19 13:00").reach
    assert by_drops is not None
    # 17 % at 300 drops, 23 % by now at 500, 24 % at 533: still within the day.
    assert by_drops.likely < local("2026-09-19 22:00")


def test_the_oils_cost_a_day_is_its_price_over_its_life() -> None:
    log = log_of(oil_price_per_litre=2.0)
    log.done("oil_change", "1", local("2026-09-15 10:00"))
    for day, percent in ((15, 6.5), (16, 9.5), (17, 12.5)):
        at = local(f"2026-09-{day} 16:00")
        log.add(at, r.ReadingTaken(log.entry(), "oil_test", "1", percent, "percent", "ben"))
    here = scene(log, "17 16:00")
    # From 5 % at 3 points a day to 24 % takes 6.33 open days; 18 litres at 2.00 are 36.
    assert cost_a_day(here, "1", oil_life(here, "1")) == pytest.approx(36 / (19 / 3), rel=1e-3)
    assert cost_a_day(here, "2", oil_life(here, "2")) is None


@given(st.lists(st.floats(0, 40), min_size=3, max_size=8), st.floats(1, 5))
def test_the_likeliest_day_lies_within_its_interval(percents: list[float], step: float) -> None:
    found = crossing([(n * step, y) for n, y in enumerate(percents)], 24, 1.0, 3)
    assert found is None or found.early <= found.likely <= found.late


@given(st.floats(0.5, 6), st.floats(1.01, 3))
def test_faster_wear_never_gives_a_later_day(rate: float, faster: float) -> None:
    """A hotter vat must not get a longer forecast: Food Sci. Nutr. 2020, PMID 32405393."""
    slow = crossing([(n, 5 + rate * n) for n in range(4)], 24, 1.0, 3)
    fast = crossing([(n, 5 + rate * faster * n) for n in range(4)], 24, 1.0, 3)
    assert slow is not None and fast is not None
    assert fast.likely < slow.likely


def two_oils_before(wear: float) -> Log:
    """Two oils that took so many points an open day, each tested four times, and a third that was filled in."""
    log = log_of()
    for fill in ("01", "05", "10"):
        log.done("oil_change", "2", local(f"2026-09-{fill} 10:00"))
        for n in range(0 if fill == "10" else 4):
            at = local(f"2026-09-{int(fill) + n:02} 22:00")
            percent = 5 + wear * open_days.elapsed(log.days, local(f"2026-09-{fill} 10:00"), at)
            log.add(at, r.ReadingTaken(log.entry(), "oil_test", "2", percent, "percent", "ben"))
    return log


def take(log: Log, *tests: tuple[str, float]) -> None:
    for when, percent in tests:
        log.add(local(f"2026-09-{when}"), r.ReadingTaken(log.entry(), "oil_test", "2", percent, "percent", "ben"))


def test_the_oils_a_vat_had_are_told_apart_by_their_changes() -> None:
    found = fills(scene(two_oils_before(3.0), "10 12:00"), "2")
    assert [len(fill.readings) for fill in found] == [4, 4, 0]
    assert found[-1].since == local("2026-09-10 10:00")


def test_earlier_oils_steady_a_day_that_three_doubtful_tests_would_throw_off() -> None:
    """At 3 points a day from 5 %, 24 % comes in six open days and a third; the tests alone say later by days."""
    doubtful = (("10 22:00", 8.6), ("11 22:00", 10.4), ("12 22:00", 12.8))
    alone, with_past = log_of(), two_oils_before(3.0)
    take(alone, *doubtful)
    take(with_past, *doubtful)
    truly = open_days.after(alone.days, local("2026-09-10 10:00"), 19 / 3)
    assert truly is not None
    by_tests, by_both = life(alone, "12 22:00").reach, life(with_past, "12 22:00").reach
    assert by_tests is not None and by_both is not None
    assert abs(by_both.likely - truly) < abs(by_tests.likely - truly)
    assert by_both.late is not None
    assert by_tests.late is None or by_both.late - by_both.early < by_tests.late - by_tests.early


def test_oil_that_wears_quite_otherwise_than_before_is_judged_by_its_own_tests() -> None:
    log = two_oils_before(1.0)
    take(log, *((f"{10 + n} 22:00", 5 + 4.0 * (n + 1)) for n in range(4)))
    reach = life(log, "13 22:00").reach
    # 21 % at closing on Sunday, 24 % within the next open day.
    assert reach is not None
    assert reach.likely < local("2026-09-15 22:00")


@given(st.lists(st.floats(0, 40), min_size=3, max_size=8), st.floats(0.1, 5), st.floats(0.1, 2), st.floats(2, 8))
def test_what_is_known_beforehand_never_puts_the_likeliest_day_outside_its_interval(
    percents: list[float], slope: float, off: float, fresh: float
) -> None:
    known = Known(Guess(slope, off), Guess(fresh, 1.0), -1.0)
    found = crossing(list(enumerate(percents)), 24, 1.0, 3, known=known)
    if found is not None:
        assert found.early <= found.likely <= found.late


def test_a_slope_known_from_oils_of_another_world_counts_for_nothing() -> None:
    points = [(n, 2.0 + 6 * n) for n in range(4)]
    odd = crossing(points, 24, 1.0, 3, known=Known(Guess(0.001, 0.001)))
    assert odd == crossing(points, 24, 1.0, 3)


# --- in the chat ---


def stage_with(*tests: tuple[str, float]) -> Stage:
    s = Stage(kitchen(), local("2026-09-15 11:00"))
    for when, percent in tests:
        s.now = local(f"2026-09-{when}")
        s.say("ben", "log.oil_test", fryer="2", amount=percent, unit="percent")
    return s


def test_a_reading_is_answered_with_the_day_once_one_can_be_named() -> None:
    s = stage_with(*TESTS[:2])
    assert "oil.reach" not in ids(s.out, "ben")
    s = stage_with(*TESTS)
    assert ids(s.out, "ben")[-2:] == ["oil.watch", "oil.reach"]
    told = [reply for reply in s.out if "oil.reach" in ids([reply])]
    assert params(told[-1:], "oil.reach")["day"] == date(2026, 9, 20)


def test_oil_that_will_not_last_tomorrow_is_to_be_changed_tonight() -> None:
    s = stage_with(*TESTS, ("19 12:00", 20.0))
    assert ids(s.out, "ben")[-3:] == ["oil.fine", "oil.reach", "oil.change_tonight"]
    assert "button.discard_guide" in [b.label.id for b in [reply for reply in s.out if reply.to == "ben"][-1].buttons]


def test_a_reading_at_the_limit_offers_the_guide_and_tells_the_leads() -> None:
    s = stage_with(("15 12:00", 24.0))
    assert ids(s.out, "ben") == ["oil.over_limit"] and ids(s.out, "maya") == ["alert.oil_over_limit"]
    assert "button.discard_guide" in [b.label.id for b in s.out[0].buttons]


def test_a_great_fall_asks_whether_the_oil_was_changed_and_a_tap_logs_it() -> None:
    s = stage_with(*TESTS, ("19 12:00", 6.0))
    assert ids(s.out, "ben")[-1] == "oil.fell"
    s.press("ben", "button.oil_changed")
    (changed,) = [c for c in s.logged(r.Confirmed) if c.duty == "oil_change"]
    assert changed.done_at < s.now
    assert [t.percent for t in oil_life(s.scene, "2").fill.readings] == [6]


def test_asked_how_long_it_lasts_each_vat_gets_its_own_answer() -> None:
    s = stage_with(*TESTS)
    replies = s.say("ben", "ask.forecast")
    assert ids(replies) == ["oil.no_reading", "oil.last_reading", "oil.reach", "oil.test_tomorrow", "oil.no_reading"]
    assert ids(stage_with(*TESTS[:1]).say("ben", "ask.forecast", fryer="2")) == [
        "oil.last_reading", "oil.too_few", "oil.keep",
    ]  # fmt: skip


def test_busy_weekdays_bring_the_drops_sooner() -> None:
    """Four weeks with three times the drops on Saturdays: what one Saturday cooks takes over two days in the week."""
    log = log_of()
    for day in range(1, 29):
        on = local(f"2026-09-{day:02} 18:00")
        if log.days.is_open(on.date()):
            log.drops("2", 300 if on.weekday() == 5 else 100, on)
    known = pace(scene(log, "29 09:00"), "2", 100.0)
    saturday, tuesday = known.by_weekday[5], known.by_weekday[1]
    assert saturday > 2 * tuesday
    # From the opening of a Saturday one busy day is enough; from a Tuesday it takes more than two.
    assert days_until(scene(log, "26 09:00"), known, saturday) == pytest.approx(1)
    assert days_until(scene(log, "29 09:00"), known, saturday) > 2
    assert days_until(scene(log, "29 09:00"), known, -50) < 0
