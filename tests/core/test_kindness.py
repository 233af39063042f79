"""Kind to people: quiet hours, one live reminder a duty and chat, gathered reminders, and what is handed over."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given, strategies as st

from bot.core.calendar import calendar
from bot.core.kitchen import Duty, Every
from bot.core.messages import Reply
from bot.core.quiet_hours import kept
from bot.core.records import Confirmed, HandedOver, Snoozed
from bot.core.scene import rules_of
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local, params

PADS = daily("pad_change", "21:30", ("1", "2"))
HOOD = daily("hood_filters", "21:00", None)
SEALS = Duty(
    "seal_replacement", Every("days", 90), PADS.at, ("1",), timedelta(minutes=30), timedelta(minutes=60),
    last_done=date(2026, 6, 17),
)  # fmt: skip


def stage(*duties: Duty, at: str = "2026-09-15 20:00") -> Stage:
    return Stage(kitchen(*duties), local(at))


# --- quiet hours ---


def test_a_reminder_that_falls_due_at_night_waits_until_an_hour_before_opening() -> None:
    s = stage(daily("hood_filters", "05:00", None), at="2026-09-15 23:00")
    assert not [r for r in s.until(local("2026-09-16 08:59")) if r.kind in ("reminder", "escalation")]
    assert ("reminder", CREW) in kinds(s.until(local("2026-09-16 09:00")))


def test_an_escalation_after_the_day_waits_for_the_next_open_day_and_is_not_lost() -> None:
    """Sunday's duty is due at 23:30; its manager's hour is past midnight, and Monday is closed."""
    s = stage(daily("hood_filters", "23:30", None), at="2026-09-13 23:00")
    first = s.until(local("2026-09-15 08:59"))
    assert [k for k in kinds(first) if k[0] == "escalation"] == []
    assert ("escalation", "maya") in kinds(s.until(local("2026-09-15 09:00")))
    assert ("escalation", "omar") in kinds(s.out)


def test_the_end_of_a_wait_is_told_at_any_hour() -> None:
    s = stage(at="2026-09-15 03:00")
    s.tap("ben", "wait:pump:1")
    assert "wait.over" in ids(s.until(local("2026-09-15 03:30")))


def test_a_reminder_put_off_into_the_night_is_promised_for_the_morning() -> None:
    s = stage(HOOD, at="2026-09-15 21:00")
    said = s.say("ben", "remind.snooze", duty="hood_filters", minutes=240)
    assert params(said, "snooze.set")["at"] == local("2026-09-16 09:00")


@given(st.integers(0, 2 * 365 * 24 * 60).map(lambda n: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=n)))
def test_what_is_kept_is_never_earlier_and_always_within_the_waking_hours_of_an_open_day(at: datetime) -> None:
    days = calendar(rules_of(kitchen()))
    then = kept(days, at)
    day = days.day_of(then)
    assert then >= at
    assert days.is_open(day)
    assert days.opening(day) - timedelta(hours=1) <= then < days.closing(day) + timedelta(hours=2)
    assert kept(days, then) == then


# --- one live reminder ---


def live(s: Stage, chat: str = CREW) -> list[Reply]:
    """The messages of a chat that still have a button to confirm with, as the chat shows them now."""
    shown: dict[object, Reply] = {}
    for n, reply in enumerate(s.out):
        if reply.to == chat:
            shown[reply.key or n] = reply
    return [r for r in shown.values() if any(b.action.startswith("done:") for b in r.buttons)]


def test_an_overdue_duty_has_one_live_reminder_however_many_days_it_stays_open() -> None:
    s = stage(SEALS)
    for day in (15, 16, 17, 18):
        s.until(local(f"2026-09-{day} 22:00"))
        assert len(live(s)) == 1
    s.press("ben", "button.done", CREW)
    assert live(s) == []
    last = s.out[-1]
    assert (last.edit, ids([last])) == (True, ["reminder.done_line"])


def test_a_daily_reminder_that_nobody_answered_loses_its_buttons_when_the_day_ends() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 23:59"))
    assert len(live(s)) == 1
    s.until(local("2026-09-16 00:00"))
    assert live(s) == []
    assert ids([r for r in s.out if r.edit][-1:]) == [
        "reminder.several",
        "reminder.missed_line",
        "reminder.missed_line",
    ]


def test_a_put_off_reminder_takes_the_place_of_the_first_one_for_that_fryer_only() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:30"))
    s.say("ben", "remind.snooze", chat=CREW, duty="pad_change", fryer="1", minutes=10)
    s.until(local("2026-09-15 21:40"))
    first, again = live(s)
    assert [b.action for b in first.buttons if b.action.startswith("done")] == ["done:pad_change:2"]
    assert [b.action for b in again.buttons if b.action.startswith("done")] == ["done:pad_change:1"]


def test_a_second_confirmation_leaves_the_first_in_the_reminder() -> None:
    s = stage(daily("pad_change", "21:30", ("1",)))
    s.until(local("2026-09-15 21:30"))
    s.say("ben", "log.done", duty="pad_change", fryer="1")
    s.until(local("2026-09-15 21:35"))
    said = s.say("rosa", "log.done", duty="pad_change", fryer="1")
    assert [r for r in said if r.edit] == []
    shown = [r for r in s.out if r.edit][-1]
    assert params([shown], "reminder.done_line")["by"] == "Ben"


def test_what_was_put_off_comes_again_in_the_order_in_which_it_fell_due() -> None:
    s = stage(daily("pad_change", "18:30", ("1",)), daily("closing_filter", "19:30", ("1",)))
    s.say("ben", "remind.snooze", minutes=10)
    said = s.until(local("2026-09-15 20:10"))
    assert [b.action for r in said for b in r.buttons if b.action.startswith("done:")] == [
        "done:pad_change:1",
        "done:closing_filter:1",
    ]


def test_a_gathered_reminder_gives_way_to_all_that_falls_due_in_one_minute() -> None:
    s = stage(PADS, SEALS)
    s.until(local("2026-09-15 21:40"))
    for slot in ("pad_change:1", "pad_change:2", "seal_replacement:1"):
        s.tap("ben", f"rush:{slot}", CREW)
    s.until(local("2026-09-16 08:00"))
    for slot in ("pad_change:1", "pad_change:2", "seal_replacement:1"):
        s.tap("ben", f"later:{slot}", CREW)
    s.until(local("2026-09-16 21:30"))
    offered = [b.action for r in live(s) for b in r.buttons if b.action.startswith("done:")]
    assert sorted(offered) == ["done:pad_change:1", "done:pad_change:2", "done:seal_replacement:1"]


def test_what_falls_due_at_the_time_it_was_put_off_to_is_called_to_mind_once() -> None:
    s = stage(PADS, at="2026-09-15 21:00")
    s.say("ben", "remind.snooze", chat=CREW, duty="pad_change", fryer="1", minutes=30)
    s.until(local("2026-09-15 21:30"))
    assert [b.action for r in live(s) for b in r.buttons if b.action.startswith("done:")] == [
        "done:pad_change:1",
        "done:pad_change:2",
    ]


def test_confirming_by_words_makes_a_put_off_reminder_true() -> None:
    s = stage(HOOD)
    s.until(local("2026-09-15 21:00"))
    s.press("ben", "button.later", CREW)
    s.until(local("2026-09-15 21:20"))
    s.say("rosa", "log.done", duty="hood_filters")
    assert live(s) == []


def test_a_reminder_in_a_private_chat_leaves_the_crews_alone() -> None:
    s = stage(HOOD)
    s.until(local("2026-09-15 21:00"))
    s.say("ben", "remind.snooze", duty="hood_filters", minutes=10)
    s.until(local("2026-09-15 21:10"))
    assert (len(live(s)), len(live(s, "ben"))) == (1, 1)
    s.say("ben", "log.done", duty="hood_filters")
    assert (live(s), live(s, "ben")) == ([], [])


@given(
    st.lists(
        st.tuples(
            st.integers(1, 200), st.sampled_from(["later", "done", "undo", "talk", "off"]), st.sampled_from("12")
        ),
        max_size=12,
    )
)
def test_whatever_happens_no_duty_has_two_live_reminders_in_a_chat(steps: list[tuple[int, str, str]]) -> None:
    s = stage(PADS, HOOD, SEALS, at="2026-09-15 20:30")
    for minutes, what, fryer in steps:
        then = s.now + timedelta(minutes=minutes)
        if what == "off":
            s.off_until(then)
        else:
            s.until(then)
        match what:
            case "later":
                s.tap("ben", f"later:pad_change:{fryer}", CREW)
            case "done":
                s.tap("ben", f"done:pad_change:{fryer}", CREW)
            case "undo":
                s.say("ben", "log.undo")
            case "talk":
                s.say("ben", "remind.snooze", chat=CREW)
            case _:
                pass
        # A catch-up after a stretch off lists what is due and is no reminder of its own.
        offered = [b.action for r in live(s) if r.kind == "reminder" for b in r.buttons if b.action.startswith("done:")]
        assert len(offered) == len(set(offered))


# --- put off, gathered, handed over ---


@pytest.mark.parametrize(
    ("now", "until"),
    [("18:10", "19:30"), ("18:59", "19:30"), ("19:00", "20:30"), ("19:01", "20:30")],
)
def test_after_the_rush_is_half_an_hour_past_the_next_whole_hour(now: str, until: str) -> None:
    s = stage(HOOD, at=f"2026-09-15 {now}")
    said = s.tap("ben", "rush:hood_filters:-", CREW)
    assert params(said, "snooze.set")["at"] == local(f"2026-09-15 {until}")


def test_later_offers_to_wait_until_the_rush_is_over() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:30"))
    s.press("ben", "button.later", CREW)
    s.press("ben", "button.after_rush", CREW)
    assert {(c.fryer, c.until) for c in s.logged(Snoozed)[-2:]} == {(f, local("2026-09-15 22:30")) for f in ("1", "2")}


def test_a_cook_who_wants_fewer_gets_their_own_reminders_together_on_the_hour() -> None:
    s = stage(HOOD, PADS)
    s.say("ben", "remind.snooze", duty="hood_filters", minutes=5)
    assert ids(s.press("ben", "button.fewer")) == ["fewer.on"]
    s.say("ben", "remind.snooze", duty="hood_filters", minutes=5)
    s.say("ben", "remind.snooze", duty="pad_change", fryer="1", minutes=50)
    mine = [r for r in s.until(local("2026-09-15 21:05")) if r.to == "ben" and not r.edit]
    assert [ids([r]) for r in mine] == [["reminder.snoozed_several", "reminder.open_line", "reminder.open_line"]]
    assert ids(s.press("ben", "button.each_at_its_time")) == ["fewer.off"]
    assert params(s.say("ben", "remind.snooze", duty="hood_filters", minutes=7), "snooze.set")["at"] == local(
        "2026-09-15 21:12"
    )


@pytest.mark.parametrize("person", ["maya", "omar"])
def test_a_lead_can_not_have_fewer(person: str) -> None:
    s = stage(HOOD)
    assert "button.fewer" not in [
        b.label.id for r in s.say(person, "remind.snooze", duty="hood_filters") for b in r.buttons
    ]
    assert ids(s.tap(person, "fewer:on")) == ["fewer.not_a_lead"]


def test_what_was_put_off_and_not_done_is_named_first_on_the_next_day() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:30"))
    s.press("ben", "button.later", CREW)
    s.until(local("2026-09-16 00:00"))
    assert {(c.fryer, c.day, c.by) for c in s.logged(HandedOver)} == {(f, date(2026, 9, 15), "ben") for f in ("1", "2")}
    morning = [r for r in s.until(local("2026-09-16 10:00")) if r.to == CREW]
    assert [(r.kind, ids([r])) for r in morning] == [("reminder", ["reminder.handover"])]
    assert [r for r in s.until(local("2026-09-16 15:00")) if "reminder.handover" in ids([r])] == []


def test_a_reminder_before_opening_comes_after_the_handover() -> None:
    s = stage(PADS, daily("hood_filters", "09:30", None))
    s.until(local("2026-09-15 21:30"))
    s.press("ben", "button.later", CREW)
    crew = [r for r in s.until(local("2026-09-16 12:00")) if r.to == CREW and not r.edit]
    morning = [ids([r]) for r in crew if r.kind == "reminder"]
    assert morning[-2:] == [["reminder.handover"], ["reminder.due"]]


def test_what_was_done_before_the_day_ended_is_not_handed_over() -> None:
    s = stage(HOOD)
    s.until(local("2026-09-15 21:00"))
    s.press("ben", "button.later", CREW)
    s.say("ben", "log.done", duty="hood_filters")
    s.until(local("2026-09-16 12:00"))
    assert s.logged(HandedOver) == []


def test_a_standing_duty_that_was_done_overnight_is_not_named_in_the_morning() -> None:
    s = stage(SEALS)
    s.until(local("2026-09-15 21:30"))
    s.press("ben", "button.later", CREW)
    s.until(local("2026-09-16 09:30"))
    s.say("ben", "log.done", duty="seal_replacement", fryer="1")
    assert "reminder.handover" not in ids(s.until(local("2026-09-16 12:00")))


def test_a_duty_put_off_to_a_later_day_stays_put_off() -> None:
    s = stage(SEALS)
    s.until(local("2026-09-15 21:30"))
    s.say("ben", "remind.snooze", duty="seal_replacement", fryer="1", minutes=15 * 60)
    s.until(local("2026-09-16 00:00"))
    assert s.logged(HandedOver) == []
    assert "reminder.snoozed" in ids(s.until(local("2026-09-16 12:45")), "ben")


def test_a_handover_that_was_missed_stands_in_the_catch_up() -> None:
    s = stage(PADS)
    s.until(local("2026-09-15 21:30"))
    s.press("ben", "button.later", CREW)
    s.until(local("2026-09-16 00:00"))
    back = s.off_until(local("2026-09-16 13:00"))
    assert "reminder.handover" in ids([r for r in back if r.kind == "catch_up"])
    assert "reminder.handover" not in ids(s.until(local("2026-09-16 20:00")))


def test_confirmations_still_count_as_before() -> None:
    s = stage(SEALS)
    s.until(local("2026-09-16 21:40"))
    s.press("ben", "button.done", CREW)
    (confirmed,) = s.logged(Confirmed)
    assert confirmed.due_at == local("2026-09-15 21:30")
