"""Duties in the crew's words: reminded, confirmed, taken back, escalated, caught up."""

from __future__ import annotations

from datetime import date, timedelta

from bot.core.kitchen import Duty, Every
from bot.core.records import Confirmed, DayEnded, Undone
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local, params

PADS = daily("pad_change", "21:30", ("1", "2"))
HOOD = daily("hood_filters", "21:00", None)


def stage(*duties: Duty, at: str = "2026-09-15 20:00") -> Stage:
    return Stage(kitchen(*duties), local(at))


def test_one_reminder_for_all_fryers_that_fall_due_together() -> None:
    s = stage(PADS)
    replies = s.until(local("2026-09-15 21:30"))
    assert kinds(replies) == [("reminder", CREW)]
    assert [b.label.id for b in replies[0].buttons] == ["button.done_on", "button.done_on", "button.later"]


def test_a_duty_of_the_whole_kitchen_has_a_plain_done() -> None:
    s = stage(HOOD)
    (reminder,) = s.until(local("2026-09-15 21:00"))
    assert [b.label.id for b in reminder.buttons] == ["button.done", "button.later"]


def test_a_tap_on_done_confirms_and_the_reminder_tells_the_truth() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:40"))
    replies = s.press("ben", "button.done_on", CREW)
    (confirmed,) = s.logged(Confirmed)
    assert (confirmed.fryer, confirmed.status, confirmed.by) == ("1", "on_time", "ben")
    (edit,) = [r for r in replies if r.edit]
    assert edit.key == s.out[0].key
    assert [w.id for w in edit.lines] == ["reminder.several", "reminder.done_line", "reminder.open_line"]


def test_the_lead_hears_at_grace_and_the_manager_at_escalate_and_neither_of_what_is_done() -> None:
    s = stage(PADS)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    replies = s.until(local("2026-09-15 23:00"))
    assert kinds(replies) == [
        ("reminder", CREW), ("escalation", "maya"), ("escalation", "omar"), ("summary", "omar"),
    ]  # fmt: skip
    late = next(r for r in replies if r.kind == "escalation")
    assert ids([late]) == ["escalation.late"]


def test_escalations_come_at_their_minute() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:59"))
    assert not [r for r in s.out if r.kind == "escalation"]
    assert ("escalation", "maya") in kinds(s.until(local("2026-09-15 22:00")))


def test_done_at_three_is_the_last_three_that_has_passed() -> None:
    s = stage(daily("pad_change", "14:30", ("1",), grace=60), at="2026-09-15 14:00")
    s.until(local("2026-09-15 16:00"))
    replies = s.say("ben", "log.done", duty="pad_change", fryer="1", clock="15:00")
    (confirmed,) = s.logged(Confirmed)
    assert confirmed.done_at == local("2026-09-15 15:00")
    assert confirmed.status == "on_time"
    assert ids(replies)[0] == "done.backdated"


def test_the_future_is_refused() -> None:
    s = stage(PADS)
    replies = s.say("ben", "log.done", duty="pad_change", fryer="1", future=True, minutes=20)
    assert ids(replies) == ["done.future"]
    assert s.logged(Confirmed) == []


def test_a_second_confirmation_is_an_extra_and_shows_the_first() -> None:
    s = stage(PADS)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    replies = s.say("rosa", "log.done", duty="pad_change", fryer="1")
    assert ids(replies)[0] == "done.again"
    assert params(replies, "done.again")["by"] == "Ben"
    assert [c.status for c in s.logged(Confirmed)] == ["on_time", "unscheduled"]


def test_a_tap_on_what_is_done_already_logs_nothing() -> None:
    s = stage(PADS)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    assert ids(s.tap("rosa", "done:pad_change:1", CREW))[0] == "done.already"
    assert len(s.logged(Confirmed)) == 1


def test_done_on_a_fryer_without_a_duty_asks_for_those_of_that_fryer() -> None:
    s = stage(PADS)
    (asked,) = s.say("ben", "log.done", fryer="2")
    assert [b.action for b in asked.buttons] == ["done:pad_change:2"]


def test_without_a_fryer_it_asks_and_the_answer_keeps_the_time_that_was_said() -> None:
    s = stage(PADS)
    assert ids(s.say("ben", "log.done", duty="pad_change", clock="19:00")) == ["ask.which_fryer_done"]
    s.until(local("2026-09-15 20:05"))
    s.say("ben", None, said_fryer="2", text="2")
    (confirmed,) = s.logged(Confirmed)
    assert (confirmed.fryer, confirmed.done_at) == ("2", local("2026-09-15 19:00"))


def test_an_unknown_fryer_is_named_and_nothing_is_logged() -> None:
    s = stage(PADS)
    assert ids(s.say("ben", "log.done", duty="pad_change", unknown_fryer="9")) == ["ask.unknown_fryer"]
    assert s.logged(Confirmed) == []


def test_undo_takes_back_the_last_entry_and_the_duty_is_open_again() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:31"))
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    answer, reminder = s.say("ben", "log.undo")
    assert ids([answer]) == ["undo.done"]
    assert (reminder.edit, ids([reminder])[1:]) == (True, ["reminder.open_line", "reminder.open_line"])
    assert len(s.logged(Undone)) == 1
    assert "due.overdue" in ids(s.say("ben", "ask.due", fryer="1"))
    assert ("escalation", "maya") in kinds(s.until(local("2026-09-15 22:00")))


def test_nobody_takes_back_what_another_did_except_a_lead() -> None:
    s = stage(PADS)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    assert ids(s.tap("rosa", "undo:1:1")) == ["undo.not_yours"]
    assert ids(s.tap("maya", "undo:1:1")) == ["undo.done"]


def test_after_its_kitchen_day_only_a_lead_corrects_an_entry() -> None:
    s = stage(PADS)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.until(local("2026-09-16 11:00"))
    assert ids(s.say("ben", "log.undo")) == ["undo.nothing"]
    assert ids(s.tap("ben", "undo:1:1")) == ["undo.too_old"]
    assert ids(s.tap("maya", "undo:1:1")) == ["undo.done"]


def test_a_snoozed_reminder_comes_again_once() -> None:
    s = stage(HOOD)
    s.until(local("2026-09-15 21:00"))
    assert ids(s.press("ben", "button.later", CREW)) == ["snooze.set"]
    older, again = s.until(local("2026-09-15 21:20"))
    assert (ids([again]), again.edit) == (["reminder.snoozed"], False)
    assert (ids([older]), older.edit, older.buttons) == (["reminder.newer_line"], True, ())
    assert ids(s.until(local("2026-09-15 21:29"))) == []


def test_a_snooze_is_dropped_when_the_duty_is_done() -> None:
    s = stage(HOOD)
    s.until(local("2026-09-15 21:00"))
    s.press("ben", "button.later", CREW)
    s.say("ben", "log.done", duty="hood_filters")
    assert ids(s.until(local("2026-09-15 21:29"))) == []


def test_no_reminder_on_a_closed_day() -> None:
    s = stage(HOOD, at="2026-09-13 23:59")
    assert not [r for r in s.until(local("2026-09-15 00:00")) if r.kind == "reminder"]


def test_no_reminder_for_a_fryer_out_of_service() -> None:
    s = stage(daily("pad_change", "21:30", ("1",)))
    s.say("ben", "log.out_of_service", fryer="1")
    assert not [r for r in s.until(local("2026-09-15 23:59")) if r.kind in ("reminder", "escalation")]


def test_after_downtime_one_catch_up_a_chat_and_nothing_twice() -> None:
    s = stage(PADS, HOOD)
    replies = s.off_until(local("2026-09-15 22:10"))
    assert sorted(kinds(replies)) == [("catch_up", CREW), ("catch_up", "maya"), ("catch_up", "omar")]
    assert not [r for r in s.until(local("2026-09-15 22:29")) if r.kind in ("reminder", "catch_up")]


def test_a_restart_on_the_spot_changes_nothing() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:30"))
    assert s.off_until(local("2026-09-15 21:30")) == []


def test_a_month_off_is_one_message_a_chat() -> None:
    s = stage(PADS, HOOD)
    s.until(local("2026-09-16 09:00"))
    replies = s.off_until(local("2026-10-16 12:00"))
    chats = [r.to for r in replies]
    assert len(chats) == len(set(chats))
    assert {r.kind for r in replies} == {"catch_up"}
    assert params(replies, "catch_up.days")["n"] == 25
    assert s.logged(DayEnded)[-1].day == date(2026, 10, 15)


def test_an_overdue_ninety_day_duty_is_called_to_mind_each_open_day() -> None:
    seals = Duty(
        "seal_replacement", Every("days", 90), PADS.at, ("1",), timedelta(minutes=30), timedelta(minutes=60),
        last_done=date(2026, 6, 17),
    )  # fmt: skip
    s = stage(seals)
    replies = [r for r in s.until(local("2026-09-18 23:00")) if r.kind == "reminder" and not r.edit]
    assert [ids([r])[0] for r in replies] == ["reminder.due", "reminder.still", "reminder.still", "reminder.still"]
    assert len([r for r in s.out if r.kind == "escalation"]) == 2


def test_a_duty_counted_in_drops_falls_due_with_the_drop_that_reaches_its_number() -> None:
    pads = Duty("pad_change", Every("drops", 50), None, ("1",), timedelta(minutes=30), timedelta(minutes=60))
    s = stage(pads)
    assert "reminder.due" not in ids(s.say("ben", "log.drops", fryer="1", amount=49.0))
    assert "reminder.due" in ids(s.say("ben", "log.drops", fryer="1", amount=1.0))
    s.until(local("2026-09-15 20:29"))
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    assert s.logged(Confirmed)[0].status == "on_time"
    assert "reminder.due" not in ids(s.say("ben", "log.drops", fryer="1", amount=49.0))


def test_an_oil_test_reading_also_does_the_duty() -> None:
    s = stage(daily("oil_test", "16:30", ("2",)))
    replies = s.say("ben", "log.oil_test", fryer="2", amount=25.0, unit="percent")
    assert ids(replies, "ben") == ["oil.over_limit"]
    assert ids(replies, "maya") == ["alert.oil_over_limit"]
    assert s.logged(Confirmed)[0].duty == "oil_test"


def test_several_confirmations_in_one_message() -> None:
    from intents.types import Slots

    s = stage(PADS)
    s.say("ben", "log.done", duty="pad_change", fryer="1", more=(Slots(duty="pad_change", fryer="2"),))
    assert [(c.entry, c.fryer) for c in s.logged(Confirmed)] == [(1, "1"), (2, "2")]


def test_not_done_logs_nothing_and_says_that_it_stays_open() -> None:
    s = stage(PADS)
    assert ids(s.say("ben", None, duty="pad_change", fryer="1", not_done=True)) == ["done.not_yet"]
    assert s.logged(Confirmed) == []


def test_a_duty_asked_for_that_is_not_open_is_answered_with_its_next_time() -> None:
    s = stage(PADS, HOOD)
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.say("ben", "log.done", duty="pad_change", fryer="2")
    (reply,) = s.say("ben", "ask.due", duty="pad_change")
    assert ids([reply]) == ["due.next"]
    assert reply.lines[0].params["at"] == local("2026-09-16 21:30")


def test_a_duty_counted_in_drops_is_only_said_not_to_be_due_today() -> None:
    s = stage(Duty("boil_out", Every("drops", 500), None, ("1",), timedelta(minutes=30), timedelta(hours=1)))
    assert ids(s.say("ben", "ask.due", duty="boil_out")) == ["due.not_today"]
