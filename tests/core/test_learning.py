"""What was not understood is gathered, and a trainer decides what it means."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bot.core.lessons import MOST_OPEN, Lessons, Meant, NotSure, PhrasesFiled, PhraseTaught
from bot.core.messages import Objection, Reply, Tapped
from bot.core.records import QuestionUnanswered
from intents.types import Choice
from tests.core.stage import Stage, ids, kitchen, local

CHOICES = (Choice("guide.food_temps", 0.45), Choice("guide.pad_change", 0.3))
ODD = "the pot has the shakes"


@pytest.fixture
def s() -> Stage:
    return Stage(kitchen(), local("2026-09-15 15:00"))


def labels(replies: list[Reply]) -> list[str]:
    return [button.label.id for reply in replies for button in reply.buttons]


def asked_back(s: Stage, text: str = ODD, person: str = "ben") -> list[Reply]:
    return s.say(person, None, text=text, confidence=0.4, choices=CHOICES)


def panel(s: Stage) -> list[Reply]:
    return s.say("lena", None, text="/phrases")


def test_what_was_asked_back_is_kept_with_what_the_cook_then_chose(s: Stage) -> None:
    asked_back(s)
    s.press("ben", "topic.guide.food_temps")
    (lesson,) = s.state.lessons.open()
    assert (lesson.text, lesson.times, lesson.chosen) == (ODD, 1, {"guide.food_temps": 1})
    assert lesson.offered == ("guide.food_temps", "guide.pad_change")


def test_a_number_typed_in_answer_counts_as_a_choice_too(s: Stage) -> None:
    asked_back(s)
    s.say("ben", None, text="2", said_number=2)
    assert s.state.lessons.open()[0].chosen == {"guide.pad_change": 1}


def test_a_second_tap_on_the_same_question_is_not_counted_again(s: Stage) -> None:
    asked_back(s)
    for _ in range(3):
        s.press("ben", "topic.guide.food_temps")
    assert s.state.lessons.open()[0].chosen == {"guide.food_temps": 1}


def test_none_of_these_keeps_the_question_for_the_trainer_as_it_says(s: Stage) -> None:
    asked_back(s)
    assert ids(s.press("ben", "button.none_of_these"))[0] == "ask.dont_know"
    assert [change.text for change in s.changes if isinstance(change, QuestionUnanswered)] == [ODD]
    assert s.state.lessons.open()[0].times == 1


def test_what_could_not_be_answered_at_all_is_kept(s: Stage) -> None:
    s.say("ben", None, text="gremlins on the pot", confidence=0.9, choices=())
    assert [(lesson.text, lesson.times) for lesson in s.state.lessons.open()] == [("gremlins on the pot", 1)]


@pytest.mark.parametrize(
    ("one", "other", "lessons"),
    [
        ("the pot has the shakes", "The POT has teh shakes!!", 1),
        ("gremlins on fryer 1", "gremlins on fryer 2", 1),
        ("the pads are done tonight on the fryer", "the pads are not done tonight on the fryer", 2),
        ("the pot has the shakes", "the hood has the blues", 2),
    ],
)
def test_near_identical_texts_are_gathered_and_others_are_not(s: Stage, one: str, other: str, lessons: int) -> None:
    asked_back(s, one)
    asked_back(s, other, "rosa")
    assert len(s.state.lessons.open()) == lessons
    assert sum(lesson.times for lesson in s.state.lessons.open()) == 2


def test_the_list_does_not_say_who_wrote_it(s: Stage) -> None:
    asked_back(s)
    shown = panel(s)
    assert "ben" not in repr([reply.lines for reply in shown]).lower()


def test_the_panel_asks_about_the_most_frequent_first_with_what_was_chosen_as_the_first_button(s: Stage) -> None:
    asked_back(s, "something rare")
    for _ in range(2):
        asked_back(s)
        s.press("ben", "topic.guide.pad_change")
    (shown,) = panel(s)
    assert shown.lines[0].params == {"text": ODD, "n": 2}
    assert labels([shown]) == [
        "topic.guide.pad_change", "topic.guide.food_temps",
        "button.another_topic", "button.no_phrase", "button.decide_later",
    ]  # fmt: skip


def test_later_goes_on_to_the_next_and_leaves_the_first_open(s: Stage) -> None:
    asked_back(s, "something rare")
    asked_back(s)
    (first,) = panel(s)
    (second,) = s.press("lena", "button.decide_later")
    assert first.lines[0].params["text"] != second.lines[0].params["text"]
    assert ids(s.press("lena", "button.decide_later")) == ["learning.no_more"]
    assert len(s.state.lessons.open()) == 2


def test_accepting_teaches_the_phrase_and_asks_about_the_next(s: Stage) -> None:
    asked_back(s, "something rare")
    asked_back(s)
    s.press("ben", "topic.guide.food_temps")
    panel(s)
    s.press("lena", "button.decide_later")
    panel(s)
    said = s.press("lena", "topic.guide.food_temps")
    assert ids(said)[0] == "learning.taught"
    assert "learning.heard" in ids(said)
    assert len(s.state.lessons.open()) == 1
    (filing,) = s.state.lessons.unfiled
    assert (filing.gain, filing.topic) == (True, "guide.food_temps")


def test_what_was_taught_can_be_taken_back_and_is_open_again(s: Stage) -> None:
    asked_back(s)
    panel(s)
    s.press("lena", "topic.guide.food_temps")
    assert ids(s.press("lena", "button.take_back")) == ["learning.taken_back"]
    assert [(f.gain, f.text, f.topic) for f in s.state.lessons.unfiled] == [
        (True, ODD, "guide.food_temps"),
        (False, ODD, "guide.food_temps"),
    ]
    assert [lesson.text for lesson in s.state.lessons.open()] == [ODD]
    assert ids(s.press("lena", "button.take_back")) == ["tap.stale"]


def test_what_was_refused_does_not_come_back(s: Stage) -> None:
    asked_back(s)
    panel(s)
    assert ids(s.press("lena", "button.no_phrase")) == ["learning.refused"]
    asked_back(s, "The pot has the shakes?")
    assert ids(panel(s)) == ["learning.nothing"]


def test_any_other_topic_can_be_chosen_group_by_group(s: Stage) -> None:
    asked_back(s)
    panel(s)
    assert ids(s.press("lena", "button.another_topic")) == ["learning.which_group"]
    (shown,) = s.press("lena", "learning.group.log")
    assert len(shown.buttons) == 7
    s.press("lena", "button.more_topics")
    said = s.press("lena", "topic.log.note")
    assert ids(said) == ["learning.taught"]
    assert s.state.lessons.unfiled[0].topic == "log.note"


def test_an_objection_is_said_and_nothing_is_taught(s: Stage) -> None:
    asked_back(s)
    tap = Tapped("lena", "lena", "learn:1:guide.food_temps", objection=Objection("near_emergency", "emergency.fire"))
    assert ids(s.happens(tap)) == ["learning.objection.near_emergency"]
    assert len(s.state.lessons.open()) == 1
    assert not s.state.lessons.unfiled


@pytest.mark.parametrize("tap", ["learn:1:guide.food_temps", "nolearn:1", "unlearn:1", "learnas:1", "learnlater:1"])
@pytest.mark.parametrize("person", ["ben", "rosa", "maya"])
def test_only_a_trainer_or_manager_decides(s: Stage, person: str, tap: str) -> None:
    asked_back(s)
    assert ids(s.tap(person, tap)) == ["learning.not_yours"]
    assert ids(s.say(person, None, text="/phrases")) == ["learning.not_yours"]
    assert s.state.lessons.open()[0].decided is None


@pytest.mark.parametrize(
    "tap", ["learn:1:no.such", "learn:9:log.note", "learn:x:log.note", "learnin:1:guide:99", "learnin:1:guide:-1"]
)
def test_a_forged_or_old_button_changes_nothing(s: Stage, tap: str) -> None:
    asked_back(s)
    assert ids(s.tap("lena", tap)) == ["tap.stale"]
    assert s.state.lessons.open()[0].decided is None


def test_a_number_typed_at_the_panel_teaches_nothing(s: Stage) -> None:
    asked_back(s)
    panel(s)
    s.say("lena", None, text="1", said_number=1, choices=())
    assert all(lesson.decided is None for lesson in s.state.lessons.by_number.values())


@pytest.mark.parametrize("text", ["/frases", "   ", "word " * 60, "###"])
def test_commands_blanks_and_long_stories_are_not_asked_about(s: Stage, text: str) -> None:
    s.say("ben", None, text=text, choices=())
    assert not s.state.lessons.open()


def test_what_means_something_in_a_phrase_file_is_taken_out_of_the_text(s: Stage) -> None:
    asked_back(s, "# {note}  the\npot")
    assert [lesson.text for lesson in s.state.lessons.open()] == ["note the pot"]


def test_the_weekly_digest_offers_what_waits(s: Stage) -> None:
    asked_back(s)
    sent = s.until(local("2026-09-22 10:01"))
    digest = [reply for reply in sent if reply.to == "lena" and reply.kind == "summary"]
    assert "button.phrases" in labels(digest)


def test_beyond_the_limit_the_least_heard_text_is_let_go() -> None:
    lessons, at = Lessons(), local("2026-09-15 15:00")
    for number in range(1, MOST_OPEN + 2):
        lessons.heard(number, f"text {number:x}", "en", at + timedelta(seconds=number))
        if number == 1:
            lessons.heard(1, "text 1", "en", at)
    assert len(lessons.open()) == MOST_OPEN
    assert 1 in lessons.by_number
    assert 2 not in lessons.by_number


def test_what_is_filed_is_no_longer_waiting_for_a_file() -> None:
    lessons, at = Lessons(), local("2026-09-15 15:00")
    for number in (1, 2):
        lessons.take(NotSure(number, f"text {number}", "en", (), "ben"), at)
        lessons.take(PhraseTaught(number, f"text {number}", "en", "log.note"), at)
    lessons.take(PhrasesFiled(1), at)
    assert [filing.text for filing in lessons.unfiled] == ["text 2"]


def test_a_text_that_was_erased_since_is_neither_shown_nor_filed() -> None:
    lessons, at = Lessons(), local("2026-09-15 15:00")
    lessons.take(NotSure(1, "", "en", (), "gone-1"), at)
    lessons.take(Meant(1, "log.note", "gone-1"), at)
    assert not lessons.open()
    lessons.take(PhraseTaught(1, "", "en", "log.note"), at)
    assert not lessons.unfiled
