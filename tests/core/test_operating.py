"""What the operator may do, and what those in charge hear when a chat can't be reached."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from msgspec.structs import replace

from bot.core.messages import Outcome, Reply
from bot.core.records import DeliveryFailed, Outgoing, RemindersPaused, Turn
from bot.core.scene import Scene
from bot.core.skills import operating, unreachable
from bot.core.skills.operating import LONGEST_TEXT, MOST_A_DAY, OrderError
from tests.core.stage import Stage, daily, ids, kinds, kitchen, local

AFTERNOON = local("2026-09-15 15:00")


def stage() -> Stage:
    shown = Stage(kitchen(daily("pad_change", "16:00", ("1",)), daily("closing_filter", "18:00", ("2",))), AFTERNOON)
    people = tuple(replace(p, telegram=1001 + n) for n, p in enumerate(shown.kitchen.people))
    shown.kitchen = replace(shown.kitchen, people=people)
    return shown


def decide(shown: Stage, what: Callable[[Scene], Outcome]) -> list[Reply]:
    """What is decided, taken in as the app takes it in."""
    outcome = what(shown.scene)
    shown._take(outcome.changes, outcome.replies)
    return list(outcome.replies)


# --- a pause ---


def test_a_pause_is_told_to_those_in_charge_and_holds_reminders_and_escalations_until_its_end() -> None:
    s = stage()
    told = decide(s, lambda scene: operating.pause(scene, timedelta(hours=2)))
    assert kinds(told) == [("alert", "maya"), ("alert", "omar")]
    assert s.until(local("2026-09-15 16:59")) == []
    after = s.until(local("2026-09-15 17:01"))
    assert ("reminder", "crew") in kinds(after) and {to for kind, to in kinds(after) if kind == "escalation"} == {
        "maya",
        "omar",
    }
    assert kinds(s.until(local("2026-09-15 18:00"))) == [("reminder", "crew")]


def test_a_pause_holds_no_cool_down_no_alarm_and_no_summary() -> None:
    s = stage()
    decide(s, lambda scene: operating.pause(scene, timedelta(hours=10)))
    s.say("ben", "cooldown.start", fryer="1", part="pump")
    assert "reminder.due" not in ids(s.until(local("2026-09-15 15:45")))
    assert any(reply.kind == "countdown" for reply in s.out)
    assert ("alert", "omar") in kinds(s.say("ben", "emergency.fire"))
    s.until(local("2026-09-15 22:31"))
    assert ("summary", "omar") in kinds(s.out)


def test_a_pause_stands_in_the_days_summary_and_what_was_not_done_counts_as_missed() -> None:
    s = stage()
    decide(s, lambda scene: operating.pause(scene, timedelta(hours=2)))
    s.now = local("2026-09-15 16:30")
    decide(s, operating.resume)
    replies = s.until(local("2026-09-15 22:31"))
    lines = ids([reply for reply in replies if reply.kind == "summary" and reply.to == "omar"])
    assert lines.count("summary.paused") == 1 and lines.count("summary.resumed") == 1
    assert "summary.open" in lines


def test_ending_a_pause_brings_what_is_due_now_and_ends_only_what_was_begun() -> None:
    s = stage()
    with pytest.raises(OrderError, match="not paused"):
        operating.resume(s.scene)
    decide(s, lambda scene: operating.pause(scene, timedelta(hours=2)))
    s.until(local("2026-09-15 16:20"))
    decide(s, operating.resume)
    assert [change.until for change in s.logged(RemindersPaused)] == [local("2026-09-15 17:00"), s.now]
    assert ("reminder", "crew") in kinds(s.until(local("2026-09-15 16:21")))
    with pytest.raises(OrderError):
        operating.resume(s.scene)


@pytest.mark.parametrize("minutes", [0, -5, 24 * 60 + 1])
def test_a_pause_has_a_length_of_at_most_a_day(minutes: int) -> None:
    with pytest.raises(OrderError, match="24 hours"):
        operating.pause(stage().scene, timedelta(minutes=minutes))


# --- a word to the managers ---


def test_a_broadcast_goes_to_every_manager_as_it_was_written_and_so_often_a_day() -> None:
    s = stage()
    for _ in range(MOST_A_DAY):
        replies = decide(s, lambda scene: operating.broadcast(scene, " New token tonight. {not a field} "))
        assert [(r.to, r.lines[0].params["text"]) for r in replies] == [("omar", "New token tonight. {not a field}")]
        s.now += timedelta(minutes=1)
    with pytest.raises(OrderError, match="24 hours"):
        operating.broadcast(s.scene, "one more")
    s.now += timedelta(days=1)
    assert decide(s, lambda scene: operating.broadcast(scene, "next day"))


@pytest.mark.parametrize("text", ["", "   ", "x" * (LONGEST_TEXT + 1)])
def test_a_broadcast_has_a_text_of_some_length(text: str) -> None:
    with pytest.raises(OrderError, match="characters"):
        operating.broadcast(stage().scene, text)


def test_a_kitchen_without_a_manager_says_so() -> None:
    s = stage()
    s.kitchen = replace(s.kitchen, people=tuple(p for p in s.kitchen.people if p.role != "manager"))
    with pytest.raises(OrderError, match="no manager"):
        operating.broadcast(s.scene, "hello")


# --- a chat that can't be reached ---


def lost(s: Stage, to: str, why: str = "blocked") -> list[Reply]:
    """A message that was given up."""
    number = s.state.sent + 1
    s.state.apply(Turn(s.state.seq + 1, s.now, (), (Outgoing(number, s.now, to, "reminder", "x"),)))
    outcome = unreachable.given_up(s.scene, number, why)
    assert outcome.changes[0] == DeliveryFailed(number, why)
    s._take(outcome.changes, outcome.replies)
    return list(outcome.replies)


def test_that_somebody_blocked_the_helper_is_told_to_the_lead_once_a_day() -> None:
    s = stage()
    first = lost(s, "ben")
    assert (kinds(first), ids(first), first[0].lines[0].params["name"]) == (
        [("alert", "maya")],
        ["unreachable.person"],
        "Ben",
    )
    assert lost(s, "ben") == []
    assert kinds(lost(s, "rosa")) == [("alert", "maya")]
    s.now += timedelta(days=1)
    assert kinds(lost(s, "ben")) == [("alert", "maya")]


def test_where_the_only_lead_is_the_one_there_is_nobody_to_tell_and_no_end_of_it() -> None:
    assert lost(stage(), "maya") == []


def test_without_a_lead_the_manager_hears_it_and_of_the_crew_chat_too() -> None:
    s = stage()
    s.kitchen = replace(s.kitchen, people=tuple(p for p in s.kitchen.people if p.role != "lead"))
    assert kinds(lost(s, "ben", "no_chat")) == [("alert", "omar")]
    assert ids(lost(s, "crew")) == ["unreachable.crew"]


@pytest.mark.parametrize("why", ["server_fault", "empty", "refused", "error", "moved"])
def test_what_says_nothing_about_the_chat_is_told_to_nobody(why: str) -> None:
    assert lost(stage(), "ben", why) == []


def test_somebody_who_never_joined_is_no_news() -> None:
    s = stage()
    people = tuple(replace(p, telegram=None) if p.id == "lena" else p for p in s.kitchen.people)
    s.kitchen = replace(s.kitchen, people=people)
    assert lost(s, "lena", "no_chat") == []
