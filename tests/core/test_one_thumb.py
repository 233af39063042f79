"""A cook in a rush: short answers mean the latest thing, and one tap does for several duties."""

from __future__ import annotations

from datetime import timedelta

from bot.core.records import Confirmed, OutageBegan, ReadingTaken, ResetTried, WaitStarted
from intents.types import Slots
from tests.core.stage import Stage, daily, ids, kitchen, local

ALL = ("1", "2", "3")


def stage(now: str = "2026-09-15 21:40") -> Stage:
    s = Stage(
        kitchen(daily("pad_change", "21:30", ALL), daily("closing_filter", "22:15", ALL)), local("2026-09-15 12:00")
    )
    s.until(local(now))
    return s


def at_the_press() -> Stage:
    """A pump whose wait is over, led to the step that presses its reset."""
    s = stage("2026-09-15 13:00")
    s.say("ben", "cooldown.start", part="pump", fryer="1")
    s.until(s.now + timedelta(minutes=30))
    s.say("ben", "talk.yes")
    s.say("ben", "talk.yes")
    s.say("ben", "talk.yes")
    return s


def test_yes_to_the_call_at_the_end_of_a_wait_opens_the_reset() -> None:
    s = stage("2026-09-15 13:00")
    s.say("ben", "cooldown.start", part="pump", fryer="1")
    s.until(s.now + timedelta(minutes=30))
    assert ids(s.say("ben", "talk.yes"))[0] == "walk.title_on"


def test_ok_goes_on_in_a_walk() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    assert ids(s.say("ben", "talk.yes"))[0] == "walk.step"
    assert s.say("ben", "talk.yes")[0].lines[0].params["n"] == 2


def test_ok_in_a_walk_does_not_answer_what_was_asked_before_the_walk() -> None:
    s = stage()
    assert ids(s.say("ben", "guide.reset_pump", fryer="2"))[-1] == "wait.offer"
    s.say("ben", "guide.pad_change", fryer="1")
    assert ids(s.say("ben", "talk.yes"))[0] == "walk.step"
    assert s.logged(WaitStarted) == []


def test_a_tapped_answer_leaves_nothing_for_a_later_yes() -> None:
    s = stage("2026-09-15 13:00")
    (offer,) = s.say("ben", "guide.reset_pump", fryer="1")
    no = next(b.action for b in offer.buttons if b.label.id == "button.not_now")
    s.tap("ben", no)
    assert ids(s.say("ben", "talk.yes")) == ["talk.no_question"]


def test_a_reset_that_may_have_been_pressed_is_asked_about_and_not_opened_again() -> None:
    s = at_the_press()
    s.say("ben", "guide.pad_change", fryer="2")
    (asked,) = s.say("maya", "guide.reset_pump", fryer="1")
    assert ids([asked]) == ["reset.pressed_before"]
    assert [b.label.id for b in asked.buttons] == ["button.clicked", "button.no_click", "button.not_pressed"]
    s.press("maya", "button.clicked")
    assert ids(s.say("maya", "guide.reset_pump", fryer="1"))[0] == "reset.to_service"


def test_not_pressed_yet_goes_through_the_reset_from_its_cautions() -> None:
    s = at_the_press()
    s.say("ben", "guide.reset_pump", fryer="1")
    assert ids(s.press("ben", "button.not_pressed"))[0] == "walk.title_on"


def test_no_at_the_step_that_presses_the_reset_means_no_click() -> None:
    s = at_the_press()
    assert "reset.to_service" in ids(s.say("ben", "talk.no"))
    (tried,) = s.logged(ResetTried)
    assert not tried.worked
    assert [o.fryer for o in s.logged(OutageBegan)] == ["1"]


def test_a_number_skips_no_check_of_a_reset() -> None:
    s = stage("2026-09-15 13:00")
    s.say("ben", "cooldown.start", part="pump", fryer="1")
    s.until(s.now + timedelta(minutes=30))
    s.say("ben", "talk.yes")
    (step,) = s.say("ben", None, said_number=2, text="2")
    assert step.lines[0].params["n"] == 1


def test_all_done_offers_all_that_is_due_in_one_tap() -> None:
    s = stage()
    (asked,) = s.say("ben", "log.done")
    assert asked.buttons[0].label.id == "button.all_due"
    s.tap("ben", asked.buttons[0].action)
    assert [(c.duty, c.fryer) for c in s.logged(Confirmed)] == [("pad_change", f) for f in ALL]


def test_an_old_all_that_is_due_logs_nothing_that_fell_due_later() -> None:
    s = stage()
    (asked,) = s.say("ben", "log.done")
    s.until(local("2026-09-15 22:20"))
    s.tap("ben", asked.buttons[0].action)
    assert {c.duty for c in s.logged(Confirmed)} == {"pad_change"}
    assert ids(s.tap("ben", asked.buttons[0].action)) == ["done.all_before"]


def test_a_duty_without_a_fryer_is_logged_on_all_of_them_in_one_tap_at_the_time_that_was_said() -> None:
    s = stage()
    s.say("ben", "log.done", duty="pad_change", clock="21:00")
    s.press("ben", "button.on_all")
    done = s.logged(Confirmed)
    assert [c.fryer for c in done] == list(ALL)
    assert {c.done_at for c in done} == {local("2026-09-15 21:00")}


def test_which_duty_is_asked_for_every_fryer_that_was_named_and_keeps_the_time() -> None:
    s = stage()
    (asked,) = s.say("ben", "log.done", fryer="1", clock="21:00", more=(Slots(fryer="2", clock="21:00"),))
    assert {str(b.label.params["fryer"].params["id"]) for b in asked.buttons} == {"1", "2"}
    s.tap("ben", asked.buttons[0].action)
    (done,) = s.logged(Confirmed)
    assert (done.duty, done.done_at) == ("pad_change", local("2026-09-15 21:00"))


def test_two_duties_without_a_fryer_are_both_asked_about() -> None:
    s = stage()
    asked = s.say("ben", "log.done", duty="pad_change", more=(Slots(duty="closing_filter"),))
    assert ids(asked) == ["ask.which_fryer_done", "ask.which_fryer_done"]


def test_what_is_clear_is_logged_though_something_else_must_be_asked() -> None:
    s = stage()
    replies = s.say("ben", "log.done", duty="pad_change", fryer="1", more=(Slots(duty="closing_filter"),))
    assert [c.duty for c in s.logged(Confirmed)] == ["pad_change"]
    assert "ask.which_fryer_done" in ids(replies)


def test_asking_for_another_language_in_it_switches_at_once() -> None:
    s = stage()
    (told,) = s.say("rosa", "talk.language", text="english please")
    assert (ids([told]), told.language) == (["talk.language_set"], "en")


def test_a_temperature_above_all_frying_says_to_switch_off_first() -> None:
    s = stage()
    (told,) = s.say("ben", "log.temperature", fryer="1", amount=430.0, unit="F")
    assert ids([told])[0] == "oil.above_frying"


def test_a_temperature_that_can_only_be_fahrenheit_is_taken_as_that() -> None:
    s = stage()
    s.say("ben", "log.temperature", fryer="1", amount=350.0)
    (taken,) = s.logged(ReadingTaken)
    assert (taken.value, taken.unit) == (350.0, "F")
    assert ids(s.say("ben", "log.temperature", fryer="1", amount=180.0)) == ["oil.which_unit"]
