"""A quarter of an hour after an emergency: is it over, or not."""

from __future__ import annotations

from datetime import timedelta

from bot.core.records import AlarmCalledOff, IncidentFollowedUp, QuestionUnanswered
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local


def stage() -> Stage:
    return Stage(kitchen(daily("pad_change", "21:30", ("1", "2"))), local("2026-09-15 12:00"))


def asked(what: str = "fire") -> Stage:
    s = stage()
    s.say("ben", f"emergency.{what}")
    s.until(s.now + timedelta(minutes=15))
    return s


def test_the_follow_up_asks_whether_it_is_over_with_two_buttons() -> None:
    s = asked()
    follow_up = s.out[-1]
    assert (ids([follow_up])[0], ids([follow_up])[-1]) == ("emergency.follow_up", "emergency.is_it_over")
    assert [b.label.id for b in follow_up.buttons] == ["button.over", "button.not_over"]


def test_yes_says_that_it_is_over_to_everybody_who_was_alerted_and_repeats_what_to_mind() -> None:
    s = asked()
    replies = s.say("ben", "talk.yes")
    assert kinds(replies) == [("reply", "ben"), ("alert", "maya"), ("alert", "omar"), ("alert", CREW)]
    assert ids(replies, "ben") == ["emergency.over", "emergency.fire/after.1", "emergency.fire/after.2"]
    assert ids(replies, CREW) == ["alert.over", "emergency.fire/after.1", "emergency.fire/after.2"]
    (said,) = s.logged(IncidentFollowedUp)
    assert (said.over, said.by, said.raised_by) == (True, "ben", "ben")


def test_no_repeats_the_instructions_to_everybody_and_comes_back_a_quarter_of_an_hour_later() -> None:
    s = asked("gas")
    replies = s.say("ben", "talk.no")
    assert ids(replies, "ben")[0] == "emergency.gas/line.1"
    assert ids(replies, "maya")[:2] == ["alert.not_over", "emergency.gas/line.1"]
    assert s.until(s.now + timedelta(minutes=14)) == []
    again = s.until(s.now + timedelta(minutes=1))
    assert ids(again)[0] == "emergency.follow_up"
    s.press("ben", "button.over")
    assert s.until(s.now + timedelta(hours=2)) == []


def test_not_over_holds_the_routine_again() -> None:
    s = Stage(kitchen(daily("pad_change", "21:30", ("1", "2"))), local("2026-09-15 21:10"))
    s.say("ben", "emergency.burn")
    s.until(local("2026-09-15 21:25"))
    s.press("ben", "button.not_over")
    assert s.until(local("2026-09-15 21:39")) == []
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-15 21:40")))


def test_words_that_are_no_clear_answer_get_the_two_buttons_again_and_are_no_question_for_the_trainer() -> None:
    s = asked()
    (again,) = s.say("ben", None, text="well the trucks are here")
    assert ids([again]) == ["emergency.over_or_not"]
    assert [b.label.id for b in again.buttons] == ["button.over", "button.not_over"]
    assert s.logged(QuestionUnanswered) == []
    assert s.logged(IncidentFollowedUp) == []


def test_a_message_that_is_sure_of_something_else_is_answered_as_ever() -> None:
    s = asked()
    assert ids(s.say("ben", "ask.service_contact"))[0] == "service.contact"


def test_a_new_cry_is_a_new_emergency_and_no_answer() -> None:
    s = asked()
    assert ids(s.say("ben", "emergency.fire"))[0] == "emergency.fire/line.1"
    assert s.logged(IncidentFollowedUp) == []


def test_a_second_it_is_over_says_who_said_so_and_tells_nobody_again() -> None:
    s = asked()
    over = s.out[-1].buttons[0].action
    s.tap("ben", over)
    assert kinds(s.tap("ben", over)) == [("reply", "ben")]
    assert len(s.logged(IncidentFollowedUp)) == 1


def test_what_was_over_can_break_out_again_by_the_same_buttons() -> None:
    s = asked()
    over, not_over = (b.action for b in s.out[-1].buttons)
    s.tap("ben", over)
    assert ids(s.tap("ben", not_over), "maya")[0] == "alert.not_over"
    assert ids(s.tap("ben", over), "maya")[0] == "alert.over"


def test_an_alarm_that_was_called_off_is_not_asked_about_and_its_buttons_do_nothing() -> None:
    s = stage()
    s.say("ben", "emergency.fire")
    s.press("ben", "button.false_alarm")
    assert len(s.logged(AlarmCalledOff)) == 1
    assert s.until(s.now + timedelta(hours=1)) == []
    assert ids(s.tap("ben", "after:fire:0:over")) == ["emergency.nothing_raised"]
