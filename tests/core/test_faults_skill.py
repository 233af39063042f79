"""Something is wrong: cautions first, the best check next, and an end in a fix or with service."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import msgspec
import pytest
from hypothesis import given, strategies as st

from bot.core.actions import LONGEST
from bot.core.diagnosis import Cause, FaultShape, Sign
from bot.core.library import GuideShape, StepShape
from bot.core.messages import Reply, Words
from bot.core.records import Confirmed, OutageBegan, ResetTried, Turn, WaitStarted, WalkMoved
from tests.core.stage import LIBRARY, Stage, ids, kinds, kitchen, local, params

FILTER = FaultShape(
    "fault.wont_filter",
    (
        Cause("seat", 0.4, 0.5, "text", evidence=(Sign("just_changed_pad_today", 4),)),
        Cause("trip", 0.3, 1, "reset:pump"),
        Cause(
            "pad", 0.15, 1, "guide.pad_change",
            evidence=(Sign("pad_not_changed_2_days", 20), Sign("just_changed_pad_today", 0.2)),
        ),
        Cause("motor", 0.1, 1, "service"),
        Cause("dark", 0.05, 1, "fault.no_power", safe_for_under_16=False),
    ),
    hot_oil=True,
    cautions=2,
)  # fmt: skip
LEAK = FaultShape("fault.leak", (Cause("drain", 1, 1, "text"),), stop=True, cautions=1)
POWER = FaultShape(
    "fault.no_power",
    (
        Cause("switch", 0.5, 1, "text"),
        Cause("others", 0.3, 1, "text", safe_for_under_16=True),
        Cause("food", 0.2, 1, "guide.food_temps", safe_for_under_16=True),
    ),
    hot_oil=False,
    cautions=1,
)
HEAT = FaultShape(
    "fault.no_heat",
    (
        Cause("flame", 0.5, 1, "text", power="gas"),
        Cause("breaker", 0.5, 1, "text", power="electric"),
        Cause("vat", 0.5, 2, "guide.drain"),
    ),
    cautions=1,
)
SHAPES = {shape.topic: shape for shape in (FILTER, LEAK, POWER, HEAT)}
GUIDES = {**LIBRARY.guides, "guide.drain": GuideShape("guide.drain", hot_oil=True, cautions=1, steps=(StepShape(),))}
WITH_FAULTS = msgspec.structs.replace(LIBRARY, faults=SHAPES, guides=GUIDES)


@dataclass
class Trouble(Stage):
    """A stage on which things go wrong."""

    def wrong(self, topic: str = "fault.wont_filter", sender: str = "ben", fryer: str | None = "1") -> list[Reply]:
        return self.say(sender, topic, fryer=fryer)

    def pad_changed(self, at: str) -> None:
        self.state.apply(
            Turn(self.state.seq + 1, local(at), (Confirmed(1, "pad_change", "1", local(at), None, "on_time", "ben"),))
        )


def stage() -> Trouble:
    return Trouble(kitchen(), local("2026-09-15 18:00"), WITH_FAULTS)


def checks(replies: list[Reply]) -> list[str]:
    """The checks asked in these replies, by the ids of their words."""
    return [words.params["text"].id for reply in replies for words in reply.lines if words.id == "fault.check"]


def test_cautions_come_before_the_first_check() -> None:
    s = stage()
    replies = s.wrong()
    assert ids(replies) == ["fault.title", "walk.caution", "walk.caution", "walk.caution", "fault.check"]
    said = [words.params["text"].id for words in replies[0].lines if words.id == "walk.caution"]
    assert said == ["fault.gear", "fault.wont_filter/caution.1", "fault.wont_filter/caution.2"]
    assert [b.label.id for b in replies[0].buttons] == ["button.thats_it", "button.no", "button.out_of_service"]


def test_a_vat_that_must_be_off_is_switched_off_before_anything_else_is_said() -> None:
    s = stage()
    assert ids(s.wrong("fault.leak"))[0] == "fault.stop"
    asked_which = s.wrong("fault.leak", "rosa", None)
    assert ids(asked_which) == ["fault.stop", "fault.which_fryer"]
    assert checks(s.say("rosa", None, said_fryer="2", text="2")) == ["fault.leak/check.drain"]


def test_without_a_fryer_it_asks_which_and_goes_on_with_the_one_just_talked_about() -> None:
    s = stage()
    assert ids(s.wrong(fryer=None)) == ["fault.which_fryer"]
    s.press("ben", "fryer.button")
    assert checks(s.out[-1:]) == ["fault.wont_filter/check.seat"]
    assert "fault.check" in ids(s.wrong("fault.no_power", fryer=None))


def test_a_fryer_that_does_not_exist_is_named_as_such() -> None:
    assert ids(stage().say("ben", "fault.leak", unknown_fryer="9")) == ["ask.unknown_fryer"]


def test_a_fault_without_content_is_owned_up_to() -> None:
    assert ids(stage().wrong("fault.smoke")) == ["fault.missing", "ask.person"]


def test_no_leads_through_every_check_once_best_first_and_then_to_service() -> None:
    s = stage()
    seen = checks(s.wrong())
    for _ in FILTER.causes:
        replies = s.say("ben", "talk.no")
        seen += checks(replies)
    assert seen == [f"fault.wont_filter/check.{name}" for name in ("seat", "trip", "pad", "motor", "dark")]
    assert ids(replies) == [
        "fault.wont_filter/none_found",
        "service.contact",
        "service.plate",
        "fault.tell_service",
        "fault.tell_checked",
        "fault.offer_down",
    ]
    told = params(replies, "fault.tell_checked")["checked"]
    assert [words.id for words in told] == [
        f"fault.wont_filter/name.{name}" for name in ("seat", "trip", "pad", "motor", "dark")
    ]
    assert params(replies, "service.plate")["serial"] == "A1"


def test_the_log_turns_the_order_and_says_why() -> None:
    s = stage()
    s.pad_changed("2026-09-10 21:30")
    replies = s.wrong()
    assert ids(replies)[-2:] == ["why.pad_not_changed_2_days", "fault.check"]
    assert checks(replies) == ["fault.wont_filter/check.pad"]


def test_what_speaks_against_a_cause_is_no_reason_to_look_there() -> None:
    s = stage()
    s.pad_changed("2026-09-15 17:30")
    assert ids(s.wrong())[-2:] == ["why.just_changed_pad_today", "fault.check"]
    last = [s.say("ben", "talk.no") for _ in FILTER.causes[1:]][-1]
    assert checks(last) == ["fault.wont_filter/check.pad"]
    assert ids(last) == ["fault.check"]


def test_what_the_log_learns_in_between_never_brings_a_check_back() -> None:
    s = stage()
    s.pad_changed("2026-09-10 21:30")
    seen = checks(s.wrong()) + checks(s.say("ben", "talk.no"))
    s.pad_changed("2026-09-15 18:00")
    for _ in FILTER.causes[1:-1]:
        seen += checks(s.press("ben", "button.no"))
    assert len(seen) == len(set(seen)) == 5


def test_a_fix_in_words_asks_whether_it_helped_and_goes_on_where_it_did_not() -> None:
    s = stage()
    s.wrong()
    fix = s.say("ben", "talk.yes")
    assert ids(fix) == ["fault.wont_filter/fix.seat"]
    assert [b.label.id for b in fix[0].buttons] == ["button.fixed", "button.still_wrong"]
    assert checks(s.press("ben", "button.still_wrong")) == ["fault.wont_filter/check.trip"]


def test_a_fix_that_helped_ends_it() -> None:
    s = stage()
    s.wrong()
    s.press("ben", "button.thats_it")
    assert ids(s.say("ben", "talk.yes")) == ["fault.fixed"]


def test_a_fix_that_is_a_guide_opens_it_at_its_cautions_for_that_fryer() -> None:
    s = stage()
    s.wrong()
    s.say("ben", "talk.no")
    s.say("ben", "talk.no")
    assert ids(s.press("ben", "button.thats_it"))[:2] == ["fault.wont_filter/fix.pad", "walk.title_on"]
    assert s.logged(WalkMoved) == [WalkMoved("ben", "ben", "guide.pad_change", "1", 0)]


def test_a_fix_that_is_a_reset_offers_its_wait_and_no_steps() -> None:
    s = stage()
    s.wrong()
    s.say("ben", "talk.no")
    assert ids(s.say("ben", "talk.yes")) == ["fault.wont_filter/fix.trip", "wait.offer_caution", "wait.offer"]
    s.say("ben", "talk.yes")
    assert [(w.part, w.fryer) for w in s.logged(WaitStarted)] == [("pump", "1")]


def test_a_second_trip_in_a_day_goes_to_service_not_to_a_reset() -> None:
    s = stage()
    s.state.apply(Turn(s.state.seq + 1, s.now - timedelta(hours=1), (ResetTried("1", "pump", True, "ben"),)))
    s.wrong()
    s.say("ben", "talk.no")
    assert "reset.to_service" in ids(s.say("ben", "talk.yes"))
    assert len(s.logged(OutageBegan)) == 1


def test_a_fix_that_is_service_offers_to_take_the_fryer_out() -> None:
    s = stage()
    s.wrong()
    for _ in range(3):
        s.say("ben", "talk.no")
    replies = s.say("ben", "talk.yes")
    assert ids(replies)[0] == "fault.wont_filter/fix.motor"
    assert ids(replies)[-1] == "fault.offer_down"
    assert not s.logged(OutageBegan)
    down = s.say("ben", "talk.yes")
    assert ids(down, "ben") == [
        "service.down", "service.contact", "service.plate", "fault.tell_service", "fault.tell_checked",
    ]  # fmt: skip
    assert [o.fryer for o in s.logged(OutageBegan)] == ["1"]


def test_a_fault_may_turn_out_to_be_another_one() -> None:
    s = stage()
    s.wrong()
    for _ in range(4):
        s.say("ben", "talk.no")
    replies = s.say("ben", "talk.yes")
    assert ids(replies)[0] == "fault.wont_filter/fix.dark"
    assert checks(replies) == ["fault.no_power/check.switch"]


def test_out_of_service_at_any_check_tells_leads_and_what_to_say_to_service() -> None:
    s = stage()
    s.wrong()
    s.say("ben", "talk.no")
    replies = s.press("ben", "button.out_of_service")
    assert ("alert", "maya") in kinds(replies)
    assert ids(replies, "ben")[-2:] == ["fault.tell_service", "fault.tell_checked"]
    assert "button.undo" in [b.label.id for b in replies[0].buttons]


def test_a_fryer_that_is_out_of_service_already_is_not_offered_for_it_again() -> None:
    s = stage()
    s.say("ben", "log.out_of_service", fryer="1")
    replies = s.wrong("fault.leak")
    assert "button.out_of_service" not in [b.label.id for b in replies[0].buttons]
    assert "fault.offer_down" not in ids(s.say("ben", "talk.no"))


@pytest.mark.parametrize(("fryer", "first"), [("1", "breaker"), ("2", "flame")])
def test_gas_and_electric_fryers_get_their_own_checks(fryer: str, first: str) -> None:
    s = stage()
    assert checks(s.wrong("fault.no_heat", fryer=fryer)) == [f"fault.no_heat/check.{first}"]
    assert checks(s.say("ben", "talk.no")) == ["fault.no_heat/check.vat"]
    assert checks(s.say("ben", "talk.no")) == []


def test_under_16_gets_only_safe_checks_and_then_a_lead() -> None:
    s = stage()
    assert checks(s.wrong("fault.no_power", "teo")) == ["fault.no_power/check.others"]
    assert checks(s.say("teo", "talk.no")) == ["fault.no_power/check.food"]
    replies = s.say("teo", "talk.no")
    assert ids(replies, "teo") == ["fault.young_lead"]
    assert params(replies, "fault.young_lead")["who"] == ("Maya", "Omar")
    assert ids(replies, "maya") == ["alert.fault"]


def test_under_16_without_a_safe_check_steps_back_and_a_lead_is_called_at_once() -> None:
    s = stage()
    replies = s.wrong("fault.leak", "teo")
    assert ids(replies, "teo") == ["fault.young_stop", "fault.title", "walk.caution", "fault.young_lead"]
    assert ids(replies, "maya") == ["alert.fault"]
    assert "fault.gear" not in [words.params["text"].id for words in replies[0].lines if "text" in words.params]


def test_under_16_gets_no_unsafe_fix_by_tapping_somebody_elses_button() -> None:
    s = stage()
    s.wrong()
    button = s.out[-1].buttons[0]
    assert ids(s.tap("teo", button.action), "teo") == ["fault.young_found", "fault.young_lead"]


def test_a_button_still_means_the_same_cause_after_the_content_has_moved() -> None:
    s = stage()
    s.wrong()
    yes = s.out[-1].buttons[0].action
    more = (Cause("new", 0.2, 0.1, "text"), *reversed(FILTER.causes))
    s.library = msgspec.structs.replace(
        WITH_FAULTS, faults={**SHAPES, FILTER.topic: msgspec.structs.replace(FILTER, causes=more)}
    )
    assert ids(s.tap("ben", yes)) == ["fault.wont_filter/fix.seat"]


def test_a_button_whose_cause_or_fryer_is_gone_is_stale() -> None:
    s = stage()
    s.wrong()
    yes = s.out[-1].buttons[0].action
    fewer = msgspec.structs.replace(FILTER, causes=FILTER.causes[1:])
    s.library = msgspec.structs.replace(WITH_FAULTS, faults={**SHAPES, FILTER.topic: fewer})
    assert ids(s.tap("ben", yes)) == ["tap.stale"]
    s.library = WITH_FAULTS
    assert ids(s.tap("ben", yes.replace(":1:", ":9:"))) == ["tap.stale"]


@given(st.text(max_size=50))
def test_no_forged_button_raises(rest: str) -> None:
    s = stage()
    assert s.tap("ben", f"fault:{rest}")


@given(st.lists(st.sampled_from(["talk.yes", "talk.no"]), max_size=12), st.sampled_from(sorted(SHAPES)))
def test_every_path_ends_and_every_button_can_be_carried(said: list[str], topic: str) -> None:
    s = stage()
    replies = s.wrong(topic)
    for answer in said:
        for reply in replies:
            assert all(len(button.action.encode()) <= LONGEST for button in reply.buttons)
        replies = s.say("ben", answer)
        assert replies


def test_words_of_a_check_may_name_the_fryer() -> None:
    found = params(stage().wrong(), "fault.check")
    assert found["n"] == 1
    assert found["text"].params == {"fryer": Words("fryer.plain", {"id": "1"})}
