"""Knowledge checks, sign-offs with an end, who is trained on what, and the trainer's Monday."""

from __future__ import annotations

from datetime import timedelta

import pytest
from msgspec.structs import replace

from bot.content.catalogue import Content
from bot.core.messages import Reply
from bot.core.records import CheckTaken, Confirmed, FaultAsked, SignedOff, SignOffRevoked
from bot.core.training import LASTS, guides_to_learn
from tests.core.stage import LIBRARY, Stage, ids, kinds, kitchen, local, params

PAD = "guide.pad_change"
ANSWERS = "213"
WITH_CHECK = replace(
    LIBRARY,
    guides={
        **LIBRARY.guides,
        PAD: replace(LIBRARY.guides[PAD], answers=tuple(map(int, ANSWERS))),
    },
)


def stage(at: str = "2026-09-15 18:00") -> Stage:
    return Stage(kitchen(), local(at), WITH_CHECK)


def take_check(s: Stage, who: str, answers: str) -> list[Reply]:
    """Answer the check of the pad change; what was said to the last answer."""
    seen = s.tap(who, f"quiz:{PAD}:-")
    for answer in answers:
        seen = s.say(who, None, said_number=int(answer), text=answer)
    return seen


def buttons(replies: list[Reply], to: str) -> list[str]:
    return [button.action for reply in replies if reply.to == to for button in reply.buttons]


# --- the check ---


def test_a_check_asks_one_question_at_a_time_with_three_options() -> None:
    s = stage()
    first = s.tap("ben", f"quiz:{PAD}:-")
    assert ids(first) == ["training.check", "training.question", *["training.option"] * 3]
    assert buttons(first, "ben") == [f"quiz:{PAD}:1", f"quiz:{PAD}:2", f"quiz:{PAD}:3"]
    second = s.press("ben", "button.number")
    assert ids(second)[:2] == ["training.wrong", "training.question"]


def test_a_right_answer_is_told_why_it_is_right() -> None:
    s = stage()
    s.tap("ben", f"quiz:{PAD}:-")
    replies = s.tap("ben", f"quiz:{PAD}:2")
    assert params(replies, "training.right")["why"].id == f"{PAD}/check.1.why"


def test_a_passed_check_is_on_record_and_the_lead_and_trainer_may_sign_off() -> None:
    s = stage()
    seen = take_check(s, "ben", ANSWERS)
    assert ids(seen, "ben") == ["training.right", "training.passed"]
    assert s.logged(CheckTaken) == [CheckTaken("ben", PAD, 3, 3)]
    assert kinds(seen)[1:] == [("alert", "maya"), ("alert", "lena")]
    assert buttons(seen, "maya") == [f"sign:{PAD}:ben"]


def test_a_failed_check_is_on_record_offers_another_try_and_tells_nobody() -> None:
    s = stage()
    seen = take_check(s, "ben", "211")
    assert ids(seen) == ["training.wrong", "training.not_passed"]
    assert {reply.to for reply in seen} == {"ben"}
    assert buttons(seen, "ben") == [f"quiz:{PAD}:-"]
    assert s.logged(CheckTaken) == [CheckTaken("ben", PAD, 2, 3)]


def test_the_check_is_offered_at_the_end_of_the_walk_until_it_is_passed() -> None:
    s = stage()
    end = s.tap("ben", f"go:{PAD}:1:4")
    assert ids(end) == ["walk.log_it"]
    assert f"quiz:{PAD}:-" in buttons(end, "ben")
    s.say("ben", "talk.yes")
    assert len(s.logged(Confirmed)) == 1, "yes still logs the duty"
    take_check(s, "ben", ANSWERS)
    assert f"quiz:{PAD}:-" not in buttons(s.tap("ben", f"go:{PAD}:1:4"), "ben")


@pytest.mark.parametrize("trail", ["4", "2131", "x", "21x", "guide"])
def test_a_forged_answer_makes_no_sense(trail: str) -> None:
    assert ids(stage().tap("ben", f"quiz:{PAD}:{trail}")) == ["tap.stale"]


def test_a_guide_without_questions_has_no_check() -> None:
    assert ids(stage().tap("ben", "quiz:guide.start_up:-")) == ["tap.stale"]


# --- sign-offs ---


def test_a_sign_off_bears_its_date_and_ends_after_180_days() -> None:
    s = stage()
    seen = s.tap("maya", f"sign:{PAD}:ben")
    (signed,) = s.logged(SignedOff)
    assert signed == SignedOff("ben", PAD, "maya", s.now + timedelta(days=180))
    assert ids(seen, "maya") == ["training.signed_off"]
    assert ids(seen, "ben") == ["training.you_are_signed_off"]


@pytest.mark.parametrize("who", ["ben", "omar", "rosa"])
def test_only_a_lead_or_the_trainer_signs_off(who: str) -> None:
    s = stage()
    assert ids(s.tap(who, f"sign:{PAD}:teo")) == ["training.not_yours"]
    assert s.logged(SignedOff) == []


def test_nobody_signs_themselves_off() -> None:
    assert ids(stage().tap("maya", f"sign:{PAD}:maya")) == ["training.not_yours"]


def test_nobody_under_16_is_signed_off_for_hot_oil() -> None:
    s = stage()
    assert ids(s.tap("maya", f"sign:{PAD}:teo")) == ["training.too_young", "young.may"]
    assert s.logged(SignedOff) == []


def test_a_sign_off_can_be_taken_back() -> None:
    s = stage()
    s.tap("maya", f"sign:{PAD}:ben")
    assert ids(s.press("maya", "button.take_back")) == ["training.taken_back"]
    assert s.logged(SignOffRevoked) == [SignOffRevoked("ben", PAD, "maya")]
    assert ids(s.tap("maya", f"unsign:{PAD}:ben")) == ["training.none_valid"]


def test_a_cook_without_a_sign_off_is_told_to_ask_a_lead_above_the_cautions_and_is_not_stopped() -> None:
    s = stage()
    s.tap("maya", f"sign:{PAD}:rosa")
    opened = s.say("ben", PAD, fryer="1")
    assert ids(opened)[:3] == ["walk.title_on", "training.ask_lead", "walk.caution"]
    assert params(opened, "training.ask_lead")["who"] == ("Maya",)
    assert ids(s.press("ben", "button.start"))[0] == "walk.step"


def test_who_is_signed_off_and_who_leads_is_told_nothing() -> None:
    s = stage()
    s.tap("maya", f"sign:{PAD}:rosa")
    for who in ("rosa", "maya", "omar", "lena"):
        assert "training.ask_lead" not in ids(s.say(who, PAD, fryer="1"))


def test_a_kitchen_that_signs_nobody_off_hears_nothing_of_it() -> None:
    s = stage()
    take_check(s, "ben", ANSWERS)
    assert "training.ask_lead" not in ids(s.say("ben", PAD, fryer="1"))


def test_a_sign_off_that_has_ended_counts_no_more() -> None:
    s = stage()
    s.tap("maya", f"sign:{PAD}:ben")
    assert "training.ask_lead" not in ids(s.say("ben", PAD, fryer="1"))
    s.now += LASTS
    assert "training.ask_lead" in ids(s.say("ben", PAD, fryer="1"))


def test_a_guide_that_cannot_hurt_needs_no_sign_off() -> None:
    s = stage()
    s.tap("maya", f"sign:{PAD}:rosa")
    assert "training.ask_lead" not in ids(s.say("ben", "guide.start_up", fryer="1"))


# --- who is trained ---


def test_train_shows_the_guides_that_need_it_to_those_who_lead() -> None:
    s = stage()
    shown = s.say("lena", None, text="/train")
    assert ids(shown) == ["training.panel"]
    assert f"trained:{PAD}" in buttons(shown, "lena")
    assert ids(s.say("ben", None, text="/train")) == ["training.not_yours"]


def test_who_is_trained_on_a_guide_and_who_could_be_signed_off() -> None:
    s = stage()
    s.tap("maya", f"sign:{PAD}:ben")
    shown = s.tap("lena", f"trained:{PAD}")
    assert ids(shown) == ["training.who", "training.until"]
    assert params(shown, "training.until")["name"] == "Ben"
    assert f"sign:{PAD}:rosa" in buttons(shown, "lena")
    assert f"sign:{PAD}:ben" not in buttons(shown, "lena")
    assert f"sign:{PAD}:teo" not in buttons(shown, "lena"), "under 16"
    assert ids(s.tap("lena", "trained:guide.reset_pump")) == ["training.who", "training.nobody"]


# --- the week ---


def mondays(s: Stage, until: str) -> list[Reply]:
    return [r for r in s.until(local(until)) if r.to == "lena" and r.kind == "summary"]


def test_the_trainer_hears_at_the_first_opening_of_the_week_what_nobody_could_answer() -> None:
    """Monday is closed in this kitchen, so it is Tuesday at ten."""
    s = stage("2026-09-16 12:00")
    for _ in range(2):
        s.say("ben", None, text="how do I clean the ceiling")
    s.say("rosa", None, text="is there a fan for the back door")
    assert mondays(s, "2026-09-22 09:59") == []
    (digest,) = mondays(s, "2026-09-22 10:00")
    assert ids([digest]) == ["digest.head", "digest.unanswered", "digest.question", "digest.question"]
    asked = [line.params for line in digest.lines if line.id == "digest.question"]
    assert asked[0] == {"text": "how do I clean the ceiling", "n": 2}
    assert [button.action for button in digest.buttons] == ["train:0", "phrases"]
    assert mondays(s, "2026-09-28 23:00") == [], "once a week"


def test_a_fault_that_came_again_within_the_week_is_named(content: Content) -> None:
    s = Stage(kitchen(), local("2026-09-16 12:00"), content.library)
    s.say("ben", "fault.wont_drain", fryer="1")
    s.say("rosa", "fault.wont_drain", fryer="1")
    s.say("ben", "fault.smoke", fryer="2")
    assert len(s.logged(FaultAsked)) == 3
    (digest,) = mondays(s, "2026-09-22 10:00")
    assert params([digest], "digest.fault")["fryer"] == "1"
    assert params([digest], "digest.fault")["n"] == 2
    assert ids([digest]).count("digest.fault") == 1


def test_who_is_due_again_is_named_two_weeks_before_and_after_the_end() -> None:
    s = stage("2026-09-16 12:00")
    s.tap("maya", f"sign:{PAD}:ben")
    (first,) = mondays(s, "2026-09-22 10:00")
    assert ids([first]) == ["digest.head", "digest.nothing"]
    s.now = local("2027-03-07 12:00")
    (soon,) = mondays(s, "2027-03-09 11:00")
    assert "digest.ending" in ids([soon])
    (ended,) = mondays(s, "2027-03-16 11:00")
    assert "digest.ended" in ids([ended])


def test_a_digest_that_was_missed_is_in_the_catch_up() -> None:
    s = stage("2026-09-16 12:00")
    s.say("ben", None, text="how do I clean the ceiling")
    seen = s.off_until(local("2026-09-22 12:00"))
    caught = [reply for reply in seen if reply.to == "lena"]
    assert [reply.kind for reply in caught] == ["catch_up"]
    assert "digest.question" in ids(caught)


# --- the questions that travel with the program ---


def test_every_walk_that_can_hurt_has_a_check_of_three_questions(content: Content) -> None:
    for topic in guides_to_learn(Stage(kitchen(), local("2026-09-15 18:00"), content.library).scene):
        assert len(content.library.guides[topic].answers) == 3, topic


def test_the_right_option_is_not_always_in_the_same_place(content: Content) -> None:
    for guide in content.library.guides.values():
        assert len(set(guide.answers)) == len(guide.answers), guide.topic
