"""A manager moves a duty in chat: from its next occurrence on, over the kitchen file, and for good."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest

from bot.core.kitchen import Duty, Every
from bot.core.records import DutyMoved, RulesTookEffect
from bot.core.scene import rules_of
from tests.core.daylog import Log
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local, params

PADS = daily("pad_change", "21:30", ("1",))
HOOD = Duty("hood_filters", Every("week", on="wednesday"), time(21), None, timedelta(minutes=30), timedelta(hours=1))


def stage(*duties: Duty, at: str = "2026-09-15 15:00") -> Stage:
    return Stage(kitchen(*duties), local(at))


def test_a_manager_moves_a_duty_with_two_taps_and_the_crew_hears_of_it() -> None:
    s = stage(PADS)
    assert ids(s.say("omar", "talk.hello", text="/times")) == ["move.which"]
    assert ids(s.press("omar", "move.duty")) == ["move.now"]
    replies = s.tap("omar", "moveto:pad_change:2100")
    assert ids(replies, "omar") == ["move.done"]
    assert ids(replies, CREW) == ["move.heard"]
    assert params(replies, "move.done")["at"] == local("2026-09-15 21:00")
    assert s.logged(DutyMoved) == [DutyMoved("pad_change", time(21), "omar")]


def test_the_reminder_comes_at_the_new_time_from_the_next_occurrence_on() -> None:
    s = stage(PADS)
    s.tap("omar", "moveto:pad_change:2100")
    assert [r.kind for r in s.until(local("2026-09-15 20:59"))] == []
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-15 21:00")))
    s.until(local("2026-09-16 20:59"))
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-16 21:00")))


def test_moved_to_a_time_that_has_passed_today_the_old_time_stands_today() -> None:
    s = stage(PADS, at="2026-09-15 21:10")
    s.tap("omar", "moveto:pad_change:2000")
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-15 21:30")))
    s.until(local("2026-09-16 19:59"))
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-16 20:00")))


def test_a_weekly_duty_is_moved_too() -> None:
    s = stage(HOOD)
    s.tap("omar", "moveto:hood_filters:1800")
    s.until(local("2026-09-16 17:59"))
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-16 18:00")))


def test_the_undo_button_moves_it_back() -> None:
    s = stage(PADS)
    s.tap("omar", "moveto:pad_change:2100")
    assert params(s.press("omar", "button.undo"), "move.done")["at"] == local("2026-09-15 21:30")
    assert s.scene.rules.duties[0].at == time(21, 30)


@pytest.mark.parametrize("person", ["ben", "maya", "lena"])
def test_nobody_but_a_manager_moves_a_duty(person: str) -> None:
    s = stage(PADS)
    for replies in (
        s.say(person, "talk.hello", text="/times"),
        s.tap(person, "move:pad_change"),
        s.tap(person, "moveto:pad_change:2100"),
    ):
        assert ids(replies) == ["move.managers_only"]
    assert s.logged(DutyMoved) == []


@pytest.mark.parametrize("written", ["moveto:pad_change:2570", "moveto:pad_change:9", "moveto:none:2100", "moveto:x"])
def test_a_forged_or_old_button_moves_nothing(written: str) -> None:
    s = stage(PADS)
    assert ids(s.tap("omar", written)) == ["tap.stale"]
    assert s.logged(DutyMoved) == []


def test_a_duty_that_drops_make_due_has_no_time_to_move() -> None:
    drops = Duty("oil_change", Every("drops", 300), None, ("1",), timedelta(minutes=30), timedelta(hours=1))
    s = stage(drops)
    assert ids(s.say("omar", "talk.hello", text="/times")) == ["move.nothing"]
    assert ids(s.tap("omar", "moveto:oil_change:2100")) == ["tap.stale"]


def test_a_restart_with_the_same_kitchen_file_leaves_it_moved() -> None:
    s = stage(PADS)
    s.tap("omar", "moveto:pad_change:2100")
    assert s.state.file_rules == rules_of(s.kitchen)
    s._take((RulesTookEffect(rules_of(s.kitchen)),), ())
    assert s.scene.rules.duties[0].at == time(21)


def test_another_change_of_the_file_keeps_the_move_and_a_new_time_in_the_file_ends_it() -> None:
    s = stage(PADS)
    s.tap("omar", "moveto:pad_change:2100")
    s._take((RulesTookEffect(rules_of(kitchen(PADS, HOOD))),), ())
    assert [d.at for d in s.scene.rules.duties] == [time(21), time(21)]
    s._take((RulesTookEffect(rules_of(kitchen(daily("pad_change", "20:45", ("1",)), HOOD))),), ())
    assert s.scene.rules.duties[0].at == time(20, 45)


def test_a_day_is_judged_by_the_time_that_held() -> None:
    log = Log(kitchen(PADS), local("2026-09-14 09:00"))
    log.add(local("2026-09-15 15:00"), DutyMoved("pad_change", time(20), "omar"))
    log.done("pad_change", "1", local("2026-09-15 20:45"))
    assert log.judged(date(2026, 9, 15)).of == {("pad_change", "1"): "late"}
