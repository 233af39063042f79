"""The rules that are never bent: resets, people under 16, cool oil, emergencies first."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from hypothesis import given, settings, strategies as st
from msgspec.structs import replace

from bot.content.catalogue import Content
from bot.core.cool_oil import Reading
from bot.core.library import GuideShape, Library, StepShape
from bot.core.messages import Reply
from bot.core.records import Confirmed, ResetTried, RoutineHeld, WaitEnded
from tests.core.stage import LIBRARY, Stage, daily, ids, kinds, kitchen, local

EVENING = "2026-09-15 18:00"
RESET_STEPS = ("guide.reset_pump/step.", "guide.reset_high_limit/step.")

BOIL_OUT = GuideShape(
    "guide.boil_out", risk="high", cautions=1, steps=(StepShape(see=True, if_not=True, cool=True), StepShape())
)
COOL_LIBRARY = replace(LIBRARY, guides={**LIBRARY.guides, "guide.boil_out": BOIL_OUT})


def stage(library: Library = LIBRARY, *duties: object) -> Stage:
    return Stage(kitchen(*duties), local(EVENING), library)  # type: ignore[arg-type]


def steps_shown(replies: list[Reply]) -> list[str]:
    """The ids of the steps that stand in these replies."""
    return [line.params["text"].id for reply in replies for line in reply.lines if line.id == "walk.step"]


# --- resets ---


@settings(max_examples=60)
@given(
    st.lists(
        st.sampled_from(
            [
                "ask", "walk", "go1", "go2", "next", "tapreset", "clicked", "notclicked", "wait", "unwait", "status",
                "5 min", "29 min", "1 min",
            ]
        ),
        max_size=14,
    )
)  # fmt: skip
def test_no_reset_step_is_ever_shown_before_a_whole_wait_has_passed_nor_after_a_reset(said: list[str]) -> None:
    """Whatever is said, tapped or forged, in whatever order, on any of these waits."""
    s = stage()
    act: dict[str, Callable[[], list[Reply]]] = {
        "ask": lambda: s.say("ben", "guide.reset_pump", fryer="2"),
        "walk": lambda: s.tap("ben", "walk:guide.reset_pump:2"),
        "go1": lambda: s.tap("ben", "go:guide.reset_pump:2:1"),
        "go2": lambda: s.tap("ben", "go:guide.reset_pump:2:2"),
        "next": lambda: s.say("ben", "walk.next"),
        "tapreset": lambda: s.tap("ben", "reset:pump:2"),
        "clicked": lambda: s.tap("ben", "clicked:pump:2:yes"),
        "notclicked": lambda: s.tap("ben", "clicked:pump:2:no"),
        "wait": lambda: s.tap("ben", "wait:pump:2"),
        "unwait": lambda: s.tap("ben", "unwait:pump:2"),
        "status": lambda: s.say("ben", "cooldown.status"),
        "5 min": lambda: s.until(s.now + timedelta(minutes=5)),
        "29 min": lambda: s.until(s.now + timedelta(minutes=29)),
        "1 min": lambda: s.until(s.now + timedelta(minutes=1)),
    }
    began = None
    for word in said:
        running = [wait for wait in s.state.waits.values() if wait.ended is None]
        began = running[0].started_at if running else began
        finished = any(change.how == "finished" for change in s.logged(WaitEnded))
        tried = bool(s.logged(ResetTried))
        shown = steps_shown(act[word]())
        if shown:
            assert began is not None
            assert finished and not tried
            assert s.now - began >= timedelta(minutes=30)
    assert len(s.logged(ResetTried)) <= 1


def test_a_reset_that_did_not_hold_stays_with_service_the_next_day_too() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:31"))
    s.tap("ben", "clicked:pump:2:no")
    s.until(local("2026-09-16 12:00"))
    assert "reset.to_service" in ids(s.say("ben", "guide.reset_pump", fryer="2"))
    assert "reset.to_service" in ids(s.tap("ben", "wait:pump:2"))


def test_once_the_fryer_is_back_in_service_another_day_a_reset_may_be_waited_for_again() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:31"))
    s.tap("ben", "clicked:pump:2:no")
    s.until(local("2026-09-16 12:00"))
    s.say("maya", "log.back_in_service", fryer="2")
    assert ids(s.say("ben", "guide.reset_pump", fryer="2")) == ["wait.offer_caution", "wait.offer"]


def test_back_in_service_does_not_open_a_second_reset_on_the_same_day() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:31"))
    s.tap("ben", "clicked:pump:2:no")
    s.say("maya", "log.back_in_service", fryer="2")
    assert "reset.to_service" in ids(s.say("ben", "guide.reset_pump", fryer="2"))


def test_the_pump_of_another_fryer_and_the_high_limit_of_the_same_have_their_own_count() -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:31"))
    s.tap("ben", "clicked:pump:2:yes")
    assert ids(s.say("ben", "guide.reset_pump", fryer="1")) == ["wait.offer_caution", "wait.offer"]
    assert ids(s.say("ben", "guide.reset_high_limit", fryer="2")) == ["wait.offer_caution", "wait.offer"]


# --- under 16 ---


def test_under_16_gets_no_walk_with_hot_oil_by_any_way_and_hears_why_and_what_they_may_do(content: Content) -> None:
    """With the guides that travel with the program: asked, tapped, forged, or carried on from somebody else's walk."""
    hot = [g.topic for g in content.library.guides.values() if g.kind == "walk" and g.hot_oil]
    assert len(hot) >= 10
    for topic in hot:
        for press in (f"walk:{topic}:1", f"go:{topic}:1:1", f"go:{topic}:1:0", f"topic:{topic}:1"):
            s = stage(content.library)
            seen = s.tap("teo", press)
            assert steps_shown(seen) == [], press
            if "reset" not in topic:
                assert ids(seen) == ["young.refused", "young.may"], press
        s = stage(content.library)
        assert ids(s.say("teo", topic, fryer="1")) == ["young.refused", "young.may"]
        assert "teo" not in s.state.walks


def test_under_16_may_still_be_led_through_what_needs_no_hot_oil(content: Content) -> None:
    s = stage(content.library)
    s.say("teo", "guide.thermometer_check")
    assert s.state.walks["teo"].topic == "guide.thermometer_check"


def test_under_16_cannot_go_on_in_a_walk_that_somebody_else_opened_in_the_crew_chat() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", chat="crew", fryer="1")
    assert ids(s.tap("teo", "go:guide.pad_change:1:1", chat="crew")) == ["young.refused", "young.may"]


def test_every_walk_in_which_oil_is_moved_is_marked_as_hot_oil(content: Content) -> None:
    """Filtering, draining, refilling, discarding, boil-outs and resets: nobody under 16 is led through them."""
    for name in (
        "filter_midshift", "filter_closing", "pad_change", "drain", "refill", "oil_discard", "boil_out", "skim",
        "oil_test", "top_up", "seal_replacement", "reset_pump", "reset_high_limit", "start_up", "shut_down",
    ):  # fmt: skip
        assert content.library.guides[f"guide.{name}"].hot_oil, name


def test_every_check_that_somebody_under_16_may_do_is_marked_one_by_one(content: Content) -> None:
    """In the diagnosis that travels with the program, no reset and no guide with hot oil is safe for under 16."""
    for fault in content.library.faults.values():
        for cause in fault.causes:
            guide = content.library.guides.get(cause.fix)
            if cause.safe_for_under_16 and guide is not None:
                assert not (guide.kind == "walk" and guide.hot_oil), (fault.topic, cause.id)


# --- cool oil ---


def at_the_cool_step() -> Stage:
    s = stage(COOL_LIBRARY)
    s.say("ben", "guide.boil_out", fryer="2")
    s.press("ben", "button.start")
    return s


def test_a_step_that_needs_cool_oil_asks_for_a_reading() -> None:
    s = at_the_cool_step()
    assert ids(s.out[-1:])[-1] == "walk.need_reading"


def test_a_hot_reading_holds_the_walk_at_that_step_until_a_cool_one() -> None:
    s = at_the_cool_step()
    s.say("ben", "log.temperature", fryer="2", amount=180, unit="F")
    held = s.say("ben", "walk.next")
    assert ids(held)[-1] == "walk.too_hot"
    assert s.state.walks["ben"].step == 1
    s.until(local("2026-09-15 18:30"))
    s.say("ben", "log.temperature", fryer="2", amount=37, unit="C")
    s.say("ben", "walk.next")
    assert s.state.walks["ben"].step == 2


def test_a_reading_of_another_fryer_or_one_taken_back_says_nothing() -> None:
    s = at_the_cool_step()
    s.say("ben", "log.temperature", fryer="1", amount=350, unit="F")
    s.say("ben", "walk.next")
    assert s.state.walks["ben"].step == 2
    s = at_the_cool_step()
    s.say("ben", "log.temperature", fryer="2", amount=350, unit="F")
    s.press("ben", "button.undo")
    s.say("ben", "walk.next")
    assert s.state.walks["ben"].step == 2


@pytest.mark.parametrize(
    ("value", "unit", "cool"), [(100, "F", True), (100.5, "F", False), (37.7, "C", True), (38.5, "C", False)]
)
def test_cool_is_one_hundred_degrees_fahrenheit_that_value_included(value: float, unit: str, cool: bool) -> None:
    """US DOL Fact Sheet 58 (2010): "100 °F or less"; 100 °F is 37.8 °C."""
    assert Reading(value, unit, local(EVENING)).cool is cool


def test_the_walks_that_need_cool_oil_have_such_a_step(content: Content) -> None:
    for name in ("oil_discard", "boil_out", "hood_filters"):
        assert any(step.cool for step in content.library.guides[f"guide.{name}"].steps), name


# --- emergencies ---


@pytest.mark.parametrize("what", ["fire", "burn", "gas"])
def test_an_emergency_is_the_first_thing_answered_whatever_else_is_going_on(what: str) -> None:
    s = stage()
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.say("ben", "guide.pad_change", fryer="1")
    s.say("ben", "guide.reset_high_limit", fryer="1")
    replies = s.say("ben", f"emergency.{what}", danger="water_on_fire")
    assert ids(replies)[0] == f"emergency.{what}/line.1"
    assert ids(replies, "ben") == [
        f"emergency.{what}/line.{n}"
        for n in range(1, LIBRARY.emergencies[what].lines + 1)  # type: ignore[index]
    ]


def test_nothing_routine_is_sent_for_a_quarter_of_an_hour_not_even_the_end_of_a_wait() -> None:
    s = stage(LIBRARY, daily("pad_change", "18:35", ("1",)))
    s.say("ben", "cooldown.start", fryer="2", part="pump")
    s.until(local("2026-09-15 18:25"))
    s.say("ben", "emergency.gas")
    assert isinstance(s.logged(RoutineHeld)[-1], RoutineHeld)
    assert kinds(s.until(local("2026-09-15 18:39"))) == []
    assert s.tap("ben", "go:guide.reset_pump:2:1")[0].lines[0].id == "reset.not_open", "held: the reset too"
    seen = kinds(s.until(local("2026-09-15 18:41")))
    assert ("reminder", "crew") in seen
    assert ("countdown", "ben") in seen
    assert ("alert", "ben") in seen


def test_no_warning_and_no_emergency_logs_a_duty_as_done() -> None:
    s = stage(replace(LIBRARY, dangers={}))
    s.say("ben", "emergency.fire", text="pad changed and now there is a fire")
    assert s.logged(Confirmed) == []
