"""Calling an alarm off: it is logged, told to whoever was alerted, and never silences another alarm."""

from __future__ import annotations

from datetime import timedelta

from msgspec import json

from bot.core.records import AlarmCalledOff, IncidentReported
from bot.core.state import State
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local


def stage() -> Stage:
    return Stage(kitchen(daily("pad_change", "21:30", ("1", "2"))), local("2026-09-15 21:20"))


def later(s: Stage, minutes: float) -> None:
    s.until(s.now + timedelta(minutes=minutes))


def test_a_false_alarm_is_logged_and_everybody_who_was_alerted_hears_of_it() -> None:
    s = stage()
    s.say("ben", "emergency.fire")
    later(s, 1)
    replies = s.press("ben", "button.false_alarm")
    assert kinds(replies) == [("reply", "ben"), ("alert", "maya"), ("alert", "omar"), ("alert", CREW)]
    (off,) = s.logged(AlarmCalledOff)
    assert (off.what, off.raised_by, off.by, len(off.reported_at)) == ("fire", "ben", "ben", 1)


def test_a_fire_right_after_a_false_alarm_alerts_everybody_again() -> None:
    s = stage()
    s.say("ben", "emergency.fire")
    s.press("ben", "button.false_alarm")
    later(s, 1)
    assert kinds(s.say("ben", "emergency.fire")) == [
        ("reply", "ben"), ("alert", "maya"), ("alert", "omar"), ("alert", CREW)
    ]  # fmt: skip


def test_an_old_no_emergency_button_does_not_call_a_later_alarm_off() -> None:
    s = stage()
    (first, *_) = s.say("ben", "emergency.fire")
    s.press("ben", "button.false_alarm")
    later(s, 2)
    s.say("ben", "emergency.fire")
    assert ids(s.tap("ben", first.buttons[0].action)) == ["emergency.nothing_raised"]
    assert s.until(local("2026-09-15 21:34")) == []
    assert len(s.logged(AlarmCalledOff)) == 1


def test_an_old_button_that_was_never_pressed_leaves_a_later_alarm_standing() -> None:
    s = stage()
    (first, *_) = s.say("ben", "emergency.fire")
    later(s, 6)
    s.say("ben", "emergency.fire")
    assert ids(s.tap("ben", first.buttons[0].action)) == ["emergency.other_stands"]
    later(s, 13)
    assert not any(r.kind == "reminder" for r in s.out)


def test_another_persons_cry_stands_when_one_calls_theirs_off() -> None:
    s = stage()
    s.say("ben", "emergency.fire")
    later(s, 1)
    s.say("rosa", "emergency.fire")
    replies = s.press("ben", "button.false_alarm")
    assert kinds(replies) == [("reply", "ben")]
    assert ids(replies) == ["emergency.other_stands"]
    assert s.state.held_until == local("2026-09-15 21:36")
    told = s.press("rosa", "button.false_alarm")
    assert {r.to for r in told} == {"rosa", "maya", "omar", CREW}


def test_calling_a_fire_off_leaves_the_routine_held_for_a_burn() -> None:
    s = stage()
    s.say("ben", "emergency.burn")
    later(s, 1)
    s.say("ben", "emergency.fire")
    s.press("ben", "button.false_alarm")
    assert s.until(local("2026-09-15 21:34")) == []
    assert ("alert", "ben") in kinds(s.until(local("2026-09-15 21:35")))


def test_two_cries_of_the_same_alarm_are_called_off_together() -> None:
    s = stage()
    s.say("ben", "emergency.gas")
    later(s, 1)
    s.say("ben", "emergency.gas")
    s.press("ben", "button.false_alarm")
    assert len(s.logged(AlarmCalledOff)[0].reported_at) == 2
    assert s.state.held_until == s.now


def test_no_emergency_an_hour_later_is_no_news() -> None:
    s = stage()
    s.say("ben", "emergency.fire")
    later(s, 61)
    assert ids(s.press("ben", "button.false_alarm")) == ["emergency.nothing_raised"]


def test_what_was_called_off_is_known_after_the_history_is_read_again() -> None:
    s = stage()
    s.say("ben", "emergency.fire")
    reported = s.now
    s.press("ben", "button.false_alarm")
    again = json.decode(json.encode(s.state), type=State)
    assert again.called_off_at(reported, IncidentReported("fire", "ben", "ben")) == s.now
