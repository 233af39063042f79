"""Speech is acted upon with care: what was heard is said, what is unsure is asked, and danger is never kept waiting."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, get_args

import pytest

from bot.core.messages import NotHeard, Reply, Said
from bot.core.records import (
    AlarmCalledOff,
    Confirmed,
    DropsCounted,
    HeardUnsurely,
    IncidentReported,
    NoteLeft,
    OutageBegan,
    QuestionUnanswered,
    ReadingTaken,
    StockCounted,
    Undone,
    WaitStarted,
    WalkMoved,
)
from bot.voice.heard import Trouble
from intents.types import Choice, Slots, Understood
from tests.core.stage import CREW, Stage, daily, ids, kinds, kitchen, local, params

LOGGED = (Confirmed, ReadingTaken, DropsCounted, NoteLeft, OutageBegan, StockCounted, Undone, WaitStarted)


def stage(at: str = "2026-09-15 21:35") -> Stage:
    return Stage(kitchen(daily("pad_change", "21:30", ("1", "2"))), local(at))


def speak(s: Stage, topic: str | None, recognised: float = 1.0, confidence: float = 0.95, **told: Any) -> list[Reply]:
    """Ben says something in a voice note."""
    names = set(Slots.__dataclass_fields__)
    slots = Slots(**{k: v for k, v in told.items() if k in names})
    rest = {k: v for k, v in told.items() if k not in names}
    addressed, chat = rest.pop("addressed", True), rest.pop("chat", "ben")
    rest.setdefault("text", "what ben said")
    rest.setdefault("choices", (Choice(topic, confidence),) if topic else ())
    understood = Understood(topic=topic, confidence=confidence, language="en", slots=slots, **rest)
    return s.happens(Said("ben", chat, understood, spoken=True, addressed=addressed, recognised=recognised))


def nothing_logged(s: Stage) -> bool:
    return not any(isinstance(change, LOGGED) for change in s.changes)


def test_an_answer_to_speech_begins_with_what_was_heard() -> None:
    replies = speak(stage(), "ask.due")
    assert replies[0].lines[0].id == "heard.echo"
    assert replies[0].lines[0].params == {"text": "what ben said"}


def test_what_was_written_is_not_echoed() -> None:
    assert "heard.echo" not in ids(stage().say("ben", "ask.due"))


def test_what_is_surely_heard_and_understood_is_logged_at_once_and_can_be_undone() -> None:
    s = stage()
    replies = speak(s, "log.done", duty="pad_change", fryer="2")
    assert len(s.logged(Confirmed)) == 1
    assert "button.undo" in [b.label.id for b in replies[0].buttons]


@pytest.mark.parametrize(("recognised", "confidence"), [(0.6, 0.95), (0.95, 0.6)])
@pytest.mark.parametrize(
    ("topic", "told", "what"),
    [
        ("log.done", {"duty": "pad_change", "fryer": "2"}, Confirmed),
        ("log.oil_test", {"fryer": "2", "amount": 18.0, "unit": "percent"}, ReadingTaken),
        ("log.temperature", {"fryer": "2", "amount": 350.0, "unit": "F"}, ReadingTaken),
        ("log.drops", {"fryer": "2", "amount": 12.0}, DropsCounted),
        ("log.note", {"note": "the pump hums"}, NoteLeft),
        ("log.out_of_service", {"fryer": "2"}, OutageBegan),
    ],
)
def test_what_is_unsure_is_shown_and_logged_at_one_tap_or_a_yes(
    topic: str, told: dict[str, Any], what: type[Any], recognised: float, confidence: float
) -> None:
    for by_word in (True, False):
        s = stage()
        replies = speak(s, topic, recognised, confidence, **told)
        assert ids(replies) == ["heard.echo", "heard.shall_i"]
        assert nothing_logged(s)
        if by_word:
            s.say("ben", "talk.yes")
        else:
            s.press("ben", "button.heard_right")
        assert len(s.logged(what)) == 1


def test_a_note_is_shown_first_however_surely_it_was_heard() -> None:
    s = stage()
    assert ids(speak(s, "log.note", 0.99, 0.99, note="the pump hums")) == ["heard.echo", "heard.shall_i"]
    assert nothing_logged(s)
    s.say("ben", "talk.yes")
    assert [logged.text for logged in s.logged(NoteLeft)] == ["the pump hums"]


def test_a_no_logs_nothing() -> None:
    s = stage()
    speak(s, "log.drops", 0.4, fryer="2", amount=12.0)
    assert ids(s.say("ben", "talk.no")) == ["talk.left_it"]
    assert nothing_logged(s)


def test_two_taps_log_once() -> None:
    s = stage()
    speak(s, "log.drops", 0.4, fryer="2", amount=12.0)
    s.press("ben", "button.heard_right")
    (asked,) = [r for r in s.out if "heard.shall_i" in [w.id for w in r.lines]]
    assert ids(s.tap("ben", asked.buttons[0].action)) == ["tap.stale"]
    assert len(s.logged(DropsCounted)) == 1


def test_a_duty_was_done_when_it_was_said_and_not_when_the_button_was_pressed() -> None:
    s = stage("2026-09-15 21:59")
    said = s.now
    speak(s, "log.done", 0.4, duty="pad_change", fryer="2")
    s.until(s.now + timedelta(minutes=40))
    s.press("ben", "button.heard_right")
    assert [(c.done_at, c.status) for c in s.logged(Confirmed)] == [(said, "on_time")]


def test_several_duties_in_one_note_are_asked_together() -> None:
    s = stage()
    more = (Slots(duty="pad_change", fryer="1"),)
    replies = speak(s, "log.done", 0.4, duty="pad_change", fryer="2", more=more)
    assert len(params(replies, "heard.shall_i")["what"]) == 2
    s.press("ben", "button.heard_right")
    assert {c.fryer for c in s.logged(Confirmed)} == {"1", "2"}


def test_two_unsure_notes_can_each_be_confirmed() -> None:
    s = stage()
    (first, *_) = speak(s, "log.drops", 0.4, fryer="2", amount=12.0)
    speak(s, "log.drops", 0.4, fryer="1", amount=7.0)
    s.tap("ben", first.buttons[0].action)
    s.press("ben", "button.heard_right")
    assert sorted((c.fryer, c.amount) for c in s.logged(DropsCounted)) == [("1", 7), ("2", 12)]


def test_a_reading_confirmed_long_after_is_asked_for_again() -> None:
    s = stage()
    speak(s, "log.oil_test", 0.4, fryer="2", amount=18.0, unit="percent")
    s.until(s.now + timedelta(minutes=16))
    assert ids(s.press("ben", "button.heard_right")) == ["heard.too_old"]
    assert nothing_logged(s)


def test_taking_back_is_asked_too_and_takes_back_what_was_shown() -> None:
    s = stage()
    s.say("ben", "log.drops", fryer="2", amount=12.0)
    speak(s, "log.undo", 0.4)
    s.say("ben", "log.drops", fryer="1", amount=5.0)
    s.press("ben", "button.heard_right")
    (undone,) = s.logged(Undone)
    assert undone.entry == s.logged(DropsCounted)[0].entry


def test_nobody_else_can_confirm_what_ben_said_in_the_crew_chat() -> None:
    s = stage()
    (asked, *_) = speak(s, "log.drops", 0.4, fryer="2", amount=12.0, chat=CREW)
    assert ids(s.tap("rosa", asked.buttons[0].action, CREW)) == ["tap.stale"]
    assert nothing_logged(s)


def test_an_unsure_fryer_in_answer_to_a_question_is_asked_back() -> None:
    s = stage()
    s.say("ben", "log.drops", amount=12.0)
    replies = speak(s, None, 0.6, said_fryer="2", said_number=2)
    assert ids(replies) == ["heard.echo", "heard.shall_i"]
    s.press("ben", "button.heard_right")
    assert [c.fryer for c in s.logged(DropsCounted)] == ["2"]


def test_a_yes_need_only_be_likely_and_a_muddled_one_is_asked_again() -> None:
    s = stage()
    speak(s, "log.drops", 0.4, fryer="2", amount=12.0)
    assert "heard.shall_i" in ids(speak(s, "talk.yes", 0.3))
    assert nothing_logged(s)
    speak(s, "talk.yes", 0.6)
    assert len(s.logged(DropsCounted)) == 1


def test_a_cool_down_heard_unsurely_is_asked() -> None:
    s = stage()
    assert ids(speak(s, "cooldown.start", 0.6, part="high_limit", fryer="2")) == ["heard.echo", "heard.shall_i"]
    assert nothing_logged(s)
    s.press("ben", "button.heard_right")
    assert len(s.logged(WaitStarted)) == 1


def test_muddled_words_move_no_walk() -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    moved = len(s.logged(WalkMoved))
    assert ids(speak(s, "walk.next", 0.3)) == ["heard.echo", "heard.not_sure"]
    assert len(s.logged(WalkMoved)) == moved
    assert "walk.step" in ids(speak(s, "walk.next", 0.7))


def test_what_was_hardly_heard_is_no_question_for_the_trainer() -> None:
    s = stage()
    assert ids(speak(s, None, 0.5)) == ["heard.echo", "heard.not_sure"]
    assert not s.logged(QuestionUnanswered)
    speak(s, None, 0.95)
    assert len(s.logged(QuestionUnanswered)) == 1


def test_an_emergency_is_acted_upon_at_once_however_unsure() -> None:
    s = stage()
    replies = speak(s, "emergency.fire", 0.05, confidence=0.4, fryer="2")
    assert replies[0].lines[0].id == "emergency.fire/line.1"
    assert replies[0].lines[-1].id == "heard.echo"
    assert kinds(replies)[1:] == [("alert", "maya"), ("alert", "omar"), ("alert", CREW)]
    assert len(s.logged(IncidentReported)) == 1
    assert [b.label.id for b in replies[0].buttons] == ["button.false_alarm"]
    s.press("ben", "button.false_alarm")
    assert len(s.logged(AlarmCalledOff)) == 1


@pytest.mark.parametrize("why", get_args(Trouble))
def test_each_trouble_has_an_answer_and_is_never_an_action(why: str) -> None:
    s = stage()
    s.say("ben", "guide.pad_change", fryer="1")
    before = len(s.changes)
    replies = s.happens(NotHeard("ben", "ben", why))
    assert ids(replies) == [f"heard.{why}", "heard.danger"]
    assert len(s.changes) == before


def test_trouble_with_talk_that_is_not_for_the_helper_is_kept_to_itself() -> None:
    s = stage()
    assert s.happens(NotHeard("ben", CREW, "noise", addressed=False)) == []


def test_talk_among_the_crew_is_not_echoed() -> None:
    assert speak(stage(), "ask.due", chat=CREW, addressed=False) == []


def test_what_was_asked_back_is_let_go_of_when_the_day_ends() -> None:
    s = stage()
    speak(s, "log.drops", 0.4, fryer="2", amount=12.0)
    assert len(s.logged(HeardUnsurely)) == 1
    s.until(local("2026-09-16 12:00"))
    assert ids(s.press("ben", "button.heard_right")) == ["tap.stale"]
