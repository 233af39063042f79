"""Who is spoken to: whoever asks for it, in private, in their language, as long as there is a voice."""

from __future__ import annotations

from dataclasses import dataclass, field

from bot.core.messages import Reply
from bot.core.records import SpeechWanted
from bot.core.scene import Scene
from intents.types import Language
from tests.core.stage import CREW, Stage, daily, ids, kitchen, local


@dataclass
class SpeakingStage(Stage):
    """A stage whose door can speak."""

    voices: frozenset[Language] = field(default_factory=lambda: frozenset({"en", "es"}))

    @property
    def scene(self) -> Scene:
        return Scene(self.kitchen, self.library, self.state, self.now, voices=self.voices)


def stage(*voices: Language) -> SpeakingStage:
    made = kitchen(daily("pad_change", "21:30", ("1", "2")))
    return SpeakingStage(made, local("2026-09-15 21:20"), voices=frozenset(voices))


def aloud(replies: list[Reply], to: str = "ben") -> list[str]:
    return [line.id for reply in replies if reply.to == to for line in reply.aloud]


def test_nobody_is_spoken_to_unasked() -> None:
    s = stage("en", "es")
    assert aloud(s.say("ben", "guide.pad_change", fryer="1")) == []


def test_from_the_wish_on_answers_are_said_aloud_until_it_is_taken_back() -> None:
    s = stage("en", "es")
    assert aloud(s.say("ben", "talk.speak")) == ["talk.speaking"]
    s.say("ben", "guide.pad_change", fryer="1")
    assert aloud(s.say("ben", "walk.next")) == ["walk.step"]
    assert aloud(s.say("ben", "talk.text_only")) == []
    assert aloud(s.say("ben", "walk.next")) == []


def test_a_tap_does_what_text_only_does() -> None:
    s = stage("en", "es")
    s.say("ben", "talk.speak")
    s.press("ben", "button.text_only")
    assert [c.spoken for c in s.logged(SpeechWanted)] == [True, False]


def test_without_a_voice_for_the_language_it_is_said_so_and_nothing_is_promised() -> None:
    s = stage("es")
    assert ids(s.say("ben", "talk.speak")) == ["talk.cannot_speak"]
    assert not s.logged(SpeechWanted)


def test_a_voice_that_is_gone_later_only_leaves_the_text() -> None:
    s = stage("en")
    s.say("ben", "talk.speak")
    s.voices = frozenset()
    assert aloud(s.say("ben", "ask.due")) == []


def test_a_step_that_was_tapped_for_is_said_too() -> None:
    s = stage("en")
    s.say("ben", "talk.speak")
    s.say("ben", "guide.pad_change", fryer="1")
    assert aloud(s.press("ben", "button.start")) == ["walk.step"]


def test_the_whole_step_is_said_with_what_to_look_for_and_what_if_not() -> None:
    s = stage("en")
    s.say("ben", "talk.speak")
    s.say("ben", "guide.pad_change", fryer="1")
    s.say("ben", "walk.next")
    assert aloud(s.say("ben", "walk.next")) == ["walk.step", "walk.see"]
    assert aloud(s.say("ben", "walk.next")) == ["walk.step", "walk.if_not"]


def test_cautions_are_said_before_the_first_step() -> None:
    s = stage("en")
    s.say("ben", "talk.speak")
    assert aloud(s.say("ben", "guide.pad_change", fryer="1"))[:3] == ["walk.title_on", "walk.caution", "walk.caution"]


def test_the_crew_chat_and_other_people_are_not_spoken_to() -> None:
    s = stage("en", "es")
    s.say("ben", "talk.speak")
    assert all(not reply.aloud for reply in s.say("ben", "ask.due", chat=CREW))
    assert all(not reply.aloud for reply in s.say("rosa", "ask.due"))


def test_a_countdown_is_not_read_out_minute_by_minute_but_its_end_is() -> None:
    s = stage("en")
    s.say("ben", "talk.speak")
    s.say("ben", "cooldown.start", part="high_limit", fryer="2")
    said = s.until(local("2026-09-15 22:00"))
    spoken = [reply for reply in said if reply.aloud and reply.to == "ben"]
    assert [line.id for reply in spoken for line in reply.aloud][:1] == ["wait.over"]
    assert not any(reply.edit for reply in spoken)


def test_instructions_in_an_emergency_are_said_aloud() -> None:
    s = stage("en")
    s.say("ben", "talk.speak")
    assert aloud(s.say("ben", "emergency.burn"))[0] == "emergency.burn/line.1"
