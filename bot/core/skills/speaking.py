"""Spoken answers: at a person's wish, what is said to them in private is said aloud too. The text always goes as well.

Whether there is a voice for a language is the door's to know (``Scene.voices``); this decides who hears what.
"""

from __future__ import annotations

from dataclasses import replace

from bot.core import records as r
from bot.core.actions import action
from bot.core.messages import Button, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker

ALOUD = ("reply", "reminder", "countdown", "alert")
"""What is said aloud. Summaries and lists of what was missed are for the eye."""

NOT_ALOUD = ("heard.echo",)
"""Lines that nobody needs to hear, unless they are asked about them."""


def speak(scene: Scene, who: Speaker) -> Outcome:
    """Say everything aloud to this person from now on, if there is a voice for their language."""
    if scene.language_of(who.person) not in scene.voices:
        return scene.answer(who, Words("talk.cannot_speak"))
    off = Button(Words("button.text_only"), action("voice", "off"))
    change = r.SpeechWanted(who.person.id, True)
    return scene.answer(who, Words("talk.speaking"), buttons=(off,), changes=(change,))


def text_only(scene: Scene, who: Speaker) -> Outcome:
    """Write only from now on."""
    change = r.SpeechWanted(who.person.id, False)
    return scene.answer(who, Words("talk.text_only"), changes=(change,))


def aloud(scene: Scene, outcome: Outcome) -> Outcome:
    """The outcome, with the lines that are to be said aloud as well."""
    wishes = scene.state.speech | {c.person: c.spoken for c in outcome.changes if isinstance(c, r.SpeechWanted)}
    if not scene.voices or not any(wishes.values()):
        return outcome
    replies = tuple(replace(one, aloud=_lines(scene, one)) if wishes.get(one.to) else one for one in outcome.replies)
    return Outcome(outcome.changes, replies)


def _lines(scene: Scene, reply: Reply) -> tuple[Words, ...]:
    person = scene.kitchen.person(reply.to)
    if person is None or reply.kind not in ALOUD or (reply.edit and reply.kind != "reply"):
        return ()
    if (reply.language or scene.language_of(person)) not in scene.voices:
        return ()
    asked = any(line.id == "heard.shall_i" for line in reply.lines)
    return tuple(line for line in reply.lines if asked or line.id not in NOT_ALOUD)
