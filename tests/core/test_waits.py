"""Cool-downs and resets: never too early, never a third time."""

from __future__ import annotations

from datetime import timedelta

from bot.core.records import OutageBegan, ResetTried, WaitEnded, WaitStarted
from tests.core.stage import Stage, ids, kinds, kitchen, local, params


def stage() -> Stage:
    return Stage(kitchen(), local("2026-09-15 18:00"))


def test_a_tripped_high_limit_gets_an_offer_and_a_yes_starts_half_an_hour() -> None:
    s = stage()
    assert ids(s.say("ben", "guide.reset_high_limit", fryer="2")) == ["wait.offer_caution", "wait.offer"]
    replies = s.say("ben", "talk.yes")
    assert kinds(replies) == [("countdown", "ben")]
    assert s.logged(WaitStarted)[0].ends_at == local("2026-09-15 18:30")


def test_without_a_fryer_it_asks_which_and_a_bare_number_answers() -> None:
    s = stage()
    assert ids(s.say("ben", "guide.reset_pump")) == ["wait.which_fryer"]
    assert ids(s.say("ben", None, said_fryer="2", text="2")) == ["wait.offer_caution", "wait.offer"]


def test_the_countdown_edits_its_one_message_and_calls_at_the_end() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    seen = s.until(local("2026-09-15 18:31"))
    assert {r.key for r in seen if r.edit} == {s.out[0].key}
    left = [r.lines[0].params["left"] for r in seen if r.edit and r.lines[0].id == "wait.left"]
    assert left == [timedelta(minutes=m) for m in (25, 20, 15, 10, 5, 4, 3, 2, 1)]
    assert ids(seen)[-2:] == ["wait.was_over", "wait.over"]
    assert [w.how for w in s.logged(WaitEnded)] == ["finished"]


def test_reset_steps_are_refused_until_the_last_minute() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:29") + timedelta(seconds=59))
    replies = s.say("ben", "guide.reset_pump", fryer="2")
    assert ids(replies) == ["wait.refused", "wait.do_not_reset"]
    assert params(replies, "wait.refused")["left"] == timedelta(minutes=1)
    assert ids(s.tap("ben", "go:guide.reset_pump:2:1")) == ["reset.not_open"]


def test_after_the_wait_the_reset_is_walked_and_its_click_logged() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:30"))
    assert "walk.caution" in ids(s.press("ben", "button.reset_now"))
    s.press("ben", "button.start")
    s.press("ben", "button.next")
    assert ids(s.press("ben", "button.finish")) == ["reset.clicked"]
    assert ids(s.say("ben", "talk.yes")) == ["reset.worked"]
    assert [t.worked for t in s.logged(ResetTried)] == [True]


def test_a_reset_that_does_not_hold_means_out_of_service_and_no_third_try() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:30"))
    replies = s.tap("ben", "clicked:pump:2:no")
    assert ids(replies, "ben") == ["reset.to_service", "service.contact", "service.plate"]
    assert ("alert", "maya") in kinds(replies)
    assert [o.fryer for o in s.logged(OutageBegan)] == ["2"]
    assert ids(s.say("ben", "cooldown.start", fryer="2", part="pump"), "ben")[0] == "reset.to_service"


def test_a_second_trip_in_one_day_goes_to_service_even_after_a_good_reset() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="high_limit")
    s.until(local("2026-09-15 18:30"))
    s.tap("ben", "clicked:high_limit:2:yes")
    assert ids(s.say("ben", "guide.reset_high_limit", fryer="2"), "ben")[0] == "reset.to_service"


def test_a_cancelled_wait_counts_for_nothing() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:20"))
    assert "wait.cancelled" in ids(s.say("ben", "cooldown.cancel"))
    assert ids(s.say("ben", "guide.reset_pump", fryer="2")) == ["wait.offer_caution", "wait.offer"]
    assert s.until(local("2026-09-15 18:40")) == []


def test_several_waits_run_side_by_side() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="1", part="pump")
    s.until(local("2026-09-15 18:10"))
    s.say("rosa", "cooldown.start", fryer="2", part="high_limit")
    assert ids(s.say("ben", "cooldown.status")).count("wait.left") == 2
    assert ids(s.say("ben", "cooldown.cancel")) == ["wait.cancel_which"]


def test_a_wait_that_ended_while_the_helper_was_off_is_caught_up_once() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    replies = s.off_until(local("2026-09-15 19:00"))
    assert ("catch_up", "ben") in kinds(replies)
    assert "catch_up.wait_over" in ids(replies)
    assert s.until(local("2026-09-15 20:00")) == []


def test_a_forged_button_opens_no_reset() -> None:
    s = stage()
    assert ids(s.tap("ben", "clicked:pump:2:yes")) == ["reset.none_open"]
    assert s.logged(ResetTried) == []


def test_a_stale_finished_wait_no_longer_opens_the_reset() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-16 12:00"))
    assert ids(s.say("ben", "guide.reset_pump", fryer="2")) == ["wait.offer_caution", "wait.offer"]
