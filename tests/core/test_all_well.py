"""After an emergency, in the crew's own words; and work that nothing is logged of."""

from __future__ import annotations

from bot.core import records as r
from tests.core.stage import Stage, daily, ids, kitchen, local

PADS = daily("pad_change", "21:30", ("1", "2", "3"))


def stage() -> Stage:
    return Stage(kitchen(PADS), local("2026-09-15 16:00"))


def followed_up(s: Stage) -> list[bool]:
    return [said.over for said in s.logged(r.IncidentFollowedUp)]


def test_all_well_answers_the_question_whether_it_is_over() -> None:
    s = stage()
    s.say("ben", "emergency.fire", chat="ben")
    s.until(local("2026-09-15 16:16"))
    s.say("ben", "talk.all_well", chat="ben", confidence=0.97)
    assert followed_up(s) == [True]


def test_all_well_that_is_not_certain_is_asked_again() -> None:
    s = stage()
    s.say("ben", "emergency.fire", chat="ben")
    s.until(local("2026-09-15 16:16"))
    s.say("ben", "talk.all_well", chat="ben", confidence=0.7)
    assert followed_up(s) == []


def test_all_well_before_the_question_is_asked_and_not_taken() -> None:
    s = stage()
    s.say("ben", "emergency.fire", chat="ben")
    assert ids(s.say("ben", "talk.all_well", chat="ben", confidence=0.97)) == ["emergency.is_it_over"]
    assert followed_up(s) == []


def test_all_well_says_yes_to_no_other_question() -> None:
    s = stage()
    s.say("ben", "log.done", chat="ben", duty="pad_change")
    s.say("ben", "talk.all_well", chat="ben", confidence=0.97)
    assert s.logged(r.Confirmed) == []


def test_all_well_without_an_emergency_leaves_no_trace() -> None:
    s = stage()
    s.say("ben", "talk.all_well", chat="ben", confidence=0.97)
    assert s.logged(r.QuestionUnanswered) == []


def test_skimming_is_logged_nowhere_and_opens_no_guide() -> None:
    s = stage()
    assert ids(s.say("ben", "duty.skimmed", fryer="2")) == ["done.not_a_duty"]
    assert s.logged(r.Confirmed) == []


def test_tomorrow_is_the_opening_of_the_next_day_that_is_open() -> None:
    s = stage()
    s.say("ben", "remind.snooze", duty="pad_change", tomorrow=True)
    assert {snoozed.until for snoozed in s.logged(r.Snoozed)} == {local("2026-09-16 10:00")}


def test_tomorrow_with_a_time_is_that_time_tomorrow() -> None:
    s = stage()
    s.say("ben", "remind.snooze", duty="pad_change", tomorrow=True, clock="18:00")
    assert {snoozed.until for snoozed in s.logged(r.Snoozed)} == {local("2026-09-16 18:00")}


def test_a_weekday_is_the_opening_of_the_next_such_day() -> None:
    s = stage()
    s.say("ben", "remind.snooze", duty="pad_change", weekday=4)
    assert {snoozed.until for snoozed in s.logged(r.Snoozed)} == {local("2026-09-18 10:00")}
