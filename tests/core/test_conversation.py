"""Emergencies first, then what was asked, then the rest; and always an answer."""

from __future__ import annotations

from bot.core.records import IncidentReported, LanguageChosen, NoteLeft, QuestionUnanswered, WalkEnded
from intents.types import Choice
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local


def stage(at: str = "2026-09-15 18:00") -> Stage:
    return Stage(kitchen(daily("pad_change", "21:30", ("1", "2"))), local(at))


def test_an_emergency_is_answered_at_once_and_everybody_hears() -> None:
    s = stage()
    replies = s.say("rosa", "emergency.fire", fryer="2")
    assert ids(replies[:1]) == [f"emergency.fire/line.{n}" for n in range(1, 6)]
    assert kinds(replies) == [("reply", "rosa"), ("alert", "maya"), ("alert", "omar"), ("alert", CREW)]
    assert len(s.logged(IncidentReported)) == 1


def test_an_emergency_outranks_an_open_question_and_a_walk() -> None:
    s = stage()
    s.say("ben", "guide.pad_change")
    s.say("ben", "log.done", duty="pad_change")
    assert ids(s.say("ben", "emergency.burn"))[0] == "emergency.burn/line.1"


def test_a_second_cry_is_answered_without_a_second_alarm() -> None:
    s = stage()
    s.say("ben", "emergency.gas")
    assert kinds(s.say("ben", "emergency.gas")) == [("reply", "ben")]


def test_routine_waits_a_quarter_of_an_hour_and_then_comes_the_follow_up() -> None:
    s = stage("2026-09-15 21:20")
    s.say("ben", "emergency.burn")
    assert s.until(local("2026-09-15 21:34")) == []
    replies = s.until(local("2026-09-15 21:35"))
    assert sorted(kinds(replies)) == [("alert", "ben"), ("reminder", CREW)]


def test_a_false_alarm_is_taken_back_to_everybody() -> None:
    s = stage("2026-09-15 21:20")
    s.say("ben", "emergency.gas")
    replies = s.press("ben", "button.false_alarm")
    assert {r.to for r in replies} == {"ben", "maya", "omar", CREW}
    assert kinds(s.until(local("2026-09-15 21:40"))) == [("reminder", CREW)]


def test_a_walk_gives_its_cautions_before_step_one() -> None:
    s = stage()
    replies = s.say("ben", "guide.pad_change", fryer="1")
    assert ids(replies) == ["walk.title_on", "walk.caution", "walk.caution", "walk.gear"]
    assert ids(s.press("ben", "button.start")) == ["walk.step"]


def test_a_walk_goes_by_words_by_taps_and_by_numbers() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    assert ids(s.say("ben", "walk.next"))[0] == "walk.step"
    assert s.say("ben", "walk.next")[0].lines[0].params["n"] == 2
    assert s.say("ben", "walk.back")[0].lines[0].params["n"] == 1
    assert s.say("ben", "walk.repeat")[0].lines[0].params["n"] == 1
    assert s.say("ben", None, said_number=3, text="3")[0].lines[0].params["n"] == 3


def test_a_tap_edits_the_walks_message_and_a_word_sends_a_new_one() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    assert s.press("ben", "button.start")[0].edit
    assert not s.say("ben", "walk.next")[0].edit


def test_the_walk_offers_the_confirmation_at_its_end() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    for _ in range(4):
        replies = s.say("ben", "walk.next")
    assert ids(replies) == ["walk.log_it"]
    assert ids(s.say("ben", "talk.yes"))[0] == "done.on_time"


def test_an_interrupted_walk_is_offered_again() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    s.say("ben", "walk.next")
    assert ids(s.say("ben", "ask.service_contact"))[-1] == "walk.waiting"
    assert s.press("ben", "button.carry_on")[0].lines[0].params["n"] == 1


def test_going_on_is_offered_once_until_the_walk_moves() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    assert "walk.waiting" not in ids(s.say("ben", "ask.service_contact"))  # it hasn't begun
    s.say("ben", "walk.next")
    said = [ids(s.say("ben", "ask.service_contact"))[-1] for _ in range(3)]
    assert said.count("walk.waiting") == 1
    assert said[0] == "walk.waiting"
    assert s.say("ben", "walk.next")[0].lines[0].params["n"] == 2
    assert ids(s.say("ben", "ask.service_contact"))[-1] == "walk.waiting"


def test_stop_ends_the_walk() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    assert ids(s.say("ben", "walk.stop")) == ["walk.stopped"]
    assert [w.finished for w in s.logged(WalkEnded)] == [False]
    assert ids(s.say("ben", "walk.next")) == ["walk.none"]


def test_gas_and_electric_fryers_are_led_differently() -> None:
    s = stage()
    assert ids(s.say("ben", "guide.start_up")) == ["ask.which_fryer_guide"]
    s.say("ben", None, said_fryer="2", text="2")
    steps = [s.say("ben", "walk.next")[0].lines[0].params["text"].id for _ in range(3)]
    assert steps == ["guide.start_up/step.1", "guide.start_up/step.2", "guide.start_up/step.4"]


def test_nobody_under_sixteen_is_led_through_hot_oil() -> None:
    s = stage()
    assert ids(s.say("teo", "guide.pad_change", fryer="1")) == ["young.refused", "young.may"]
    assert ids(s.tap("teo", "go:guide.pad_change:1:1"))[0] == "young.refused"


def test_facts_come_in_one_message() -> None:
    assert ids(stage().say("ben", "guide.food_temps")) == ["walk.title", "walk.fact", "walk.fact"]


def test_a_topic_without_a_guide_says_so_and_names_a_person() -> None:
    assert ids(stage().say("ben", "guide.skim")) == ["guide.missing", "ask.person"]


def test_what_is_not_understood_is_kept_for_the_trainer() -> None:
    s = stage()
    assert ids(s.say("ben", None, text="how do I descale the kettle", choices=())) == [
        "ask.dont_know",
        "ask.person",
    ]
    assert [q.text for q in s.logged(QuestionUnanswered)] == ["how do I descale the kettle"]


def test_what_is_half_understood_is_asked_back_with_the_likeliest_as_buttons() -> None:
    s = stage()
    choices = (Choice("guide.food_temps", 0.4), Choice("guide.pad_change", 0.3))
    replies = s.say("ben", None, text="temps", choices=choices)
    assert [b.label.id for b in replies[0].buttons] == [
        "topic.guide.food_temps", "topic.guide.pad_change", "button.none_of_these",
    ]  # fmt: skip
    assert ids(s.press("ben", "topic.guide.food_temps"))[0] == "walk.title"


def test_a_guide_that_can_hurt_needs_more_certainty() -> None:
    s = stage()
    choices = (Choice("guide.pad_change", 0.55), Choice("guide.skim", 0.3))
    assert ids(s.say("ben", "guide.pad_change", confidence=0.55, choices=choices)) == ["ask.did_you_mean"]


def test_a_yes_to_nothing_is_told_so() -> None:
    assert ids(stage().say("ben", "talk.yes")) == ["talk.no_question"]


def test_an_old_question_is_not_answered_by_a_late_yes() -> None:
    s = stage()
    s.say("ben", "guide.reset_pump", fryer="2")
    s.until(local("2026-09-15 18:16"))
    assert ids(s.say("ben", "talk.yes")) == ["talk.no_question"]


def test_the_fryer_just_talked_about_is_meant_for_ten_minutes() -> None:
    s = stage()
    s.say("ben", "ask.equipment", fryer="2")
    s.until(local("2026-09-15 18:10"))
    assert ids(s.say("ben", "cooldown.start", part="pump"))[0] == "wait.left"
    t = stage()
    t.say("ben", "ask.equipment", fryer="2")
    t.until(local("2026-09-15 18:11"))
    assert ids(t.say("ben", "cooldown.start", part="pump")) == ["wait.which_fryer"]


def test_a_blank_message_gets_an_answer() -> None:
    assert ids(stage().say("ben", None, text="   ", choices=())) == ["talk.blank"]


def test_a_person_chooses_their_language() -> None:
    s = stage()
    s.say("ben", "talk.language")
    replies = s.press("ben", "language.es")
    assert replies[0].language == "es"
    assert s.logged(LanguageChosen)[0].language == "es"
    assert s.say("ben", "talk.hello")[0].language == "es"


def test_a_note_is_kept_in_the_persons_own_words() -> None:
    s = stage()
    s.say("ben", "log.note", note="basket handle on 1 is loose")
    assert [n.text for n in s.logged(NoteLeft)] == ["basket handle on 1 is loose"]


def test_a_note_can_not_pass_for_lines_of_a_summary_or_steer_a_terminal() -> None:
    s = stage()
    s.say("ben", "log.note", note="\x1b[2J all well\nLate: 0\u202e txen \U0001f468\u200d\U0001f373")
    assert [n.text for n in s.logged(NoteLeft)] == ["[2J all well Late: 0 txen \U0001f468\u200d\U0001f373"]


def test_a_button_that_makes_no_sense_is_told_so() -> None:
    s = stage()
    for action in (
        "",
        "done",
        "done:pad_change:9",
        "go:guide.pad_change:1:x",
        "undo:9:1",
        "read:oil_test:1:x:percent",
    ):
        assert ids(s.tap("ben", action)) == ["tap.stale"], action


def test_talk_in_the_crew_chat_that_is_not_for_the_helper_is_left_alone() -> None:
    from bot.core.messages import Said
    from intents.types import Understood

    s = stage()
    chatter = Understood("running late, sorry", None, 0.1, "en")
    assert s.happens(Said("ben", CREW, chatter, addressed=False)) == []


def test_a_cry_in_the_crew_chat_is_answered_in_its_language_and_in_the_crews() -> None:
    s = stage()
    replies = [r for r in s.say("rosa", "emergency.fire", chat=CREW) if r.to == CREW]
    assert [(r.kind, r.language) for r in replies] == [("reply", "es"), ("alert", None)]
    assert [r.kind for r in s.say("ben", "emergency.gas", chat=CREW) if r.to == CREW] == ["reply"]
