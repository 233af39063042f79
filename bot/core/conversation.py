"""The one door: an event comes in, what should happen goes out.

Nothing here reads a clock, a file or the network; time arrives with the scene. Emergencies are asked first, then
dangerous acts, then whatever question is open, then the rest.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

from bot.core import records as r, slash, taps, topics
from bot.core.messages import (
    CREW,
    Arrived,
    Event,
    GroupOffered,
    LinkWanted,
    NotHeard,
    Outcome,
    Said,
    Sent,
    Tapped,
    Words,
)
from bot.core.scene import Scene, Speaker
from bot.core.skills import (
    aftermath,
    asking,
    dangers,
    duties,
    emergencies,
    guides,
    hearing,
    joining,
    learning,
    moving,
    people,
    photos,
    speaking,
    talk,
    training,
    waits,
)
from bot.core.ticking import tick
from intents.types import Understood

CLEARLY = 0.8
"""In the crew chat, talk that isn't addressed to the helper is taken up only from this confidence on."""

MAYBE = 0.25
"""From this chance on the likeliest topics are offered instead of "I don't know"."""

RISKY = 0.6
"""Guides that can hurt are opened, and duties of the kitchen's own logged, only from this confidence on; below it the
helper asks what is meant."""


COMMANDS: dict[str, Callable[[Scene, Speaker], Outcome]] = {
    "/train": training.panel,
    "/times": moving.panel,
    "/phrases": learning.panel,
}
"""What is asked for by its command alone, in any language."""


def respond(scene: Scene, event: Event) -> Outcome:
    """What should happen, given what just did. Raises ``KeyError`` for a sender who isn't of this kitchen."""
    return speaking.aloud(scene, _outcome(scene, event))


def _outcome(scene: Scene, event: Event) -> Outcome:
    match event:
        case Said():
            who = _speaker(scene, event.sender, event.chat)
            return _said(scene, who, event) if not event.spoken else _spoken(scene, who, event)
        case NotHeard():
            return hearing.not_heard(scene, _speaker(scene, event.sender, event.chat), event)
        case Tapped():
            who = _speaker(scene, event.sender, event.chat)
            return _tapped(scene, who, event)
        case Sent():
            who = _speaker(scene, event.sender, event.chat)
            if event.entry is not None and event.file is not None:
                return photos.kept(scene, who, event.entry, event.file)
            return scene.answer(who, Words("sent.photo_not_kept" if event.unusable else f"sent.{event.what}"))
        case Arrived():
            return joining.arrived(scene, event)
        case GroupOffered():
            return people.group_offered(scene, _speaker(scene, event.sender, event.sender), event)
        case LinkWanted():
            return joining.wanted_by_operator(scene, event)
        case _:
            return tick(scene)


def _tapped(scene: Scene, who: Speaker, event: Tapped) -> Outcome:
    outcome = taps.act(scene, who, event.action, event.secret, event.objection)
    question = asking.open_question(scene, who)
    if question is None:
        return outcome
    if any(option.action == event.action for option in question.options):
        # What the answer asks in turn comes after, and stays open.
        return Outcome((r.Settled(who.chat, who.person.id),)) + outcome
    return _settled_by(who, outcome)


def _speaker(scene: Scene, sender: str, chat: str) -> Speaker:
    person = scene.kitchen.person(sender)
    if person is None or chat not in (CREW, sender):
        raise KeyError(sender)
    return Speaker(person, chat)


def _spoken(scene: Scene, who: Speaker, said: Said) -> Outcome:
    """What was spoken is worked out as if it had been written, and then acted upon with care."""
    outcome = _said(scene, who, said)
    if (said.understood.topic or "").startswith("emergency."):
        return hearing.with_echo(who, said, outcome, last=True)
    return hearing.with_care(scene, who, said, outcome)


def _said(scene: Scene, who: Speaker, said: Said) -> Outcome:
    understood = said.understood
    topic = understood.topic
    if topic is not None and topic.startswith("emergency."):
        what = cast("r.IncidentKind", topic.removeprefix("emergency."))
        warning = dangers.warning(scene, said.danger)
        return emergencies.raise_alarm(scene, who, what, understood.slots.fryer, warning)
    if not understood.text.strip():
        return scene.answer(who, Words("talk.blank"))
    if said.danger is not None:
        warned = dangers.warn(scene, who, said.danger, understood)
        if warned is not None:
            return warned
    command = COMMANDS.get(understood.text.strip().lower())
    if command is not None:
        return command(scene, who)
    asked = slash.answer(scene, who, understood.text, said.secret)
    if asked is not None:
        return asked
    question = asking.open_question(scene, who)
    if question is not None:
        chosen = asking.answered(question, understood)
        if chosen is not None:
            settled = Outcome((r.Settled(who.chat, who.person.id),))
            return settled + taps.act(scene, who, chosen, said.secret)
    if not said.addressed and (topic is None or not topic.startswith("log.") or understood.confidence < CLEARLY):
        return Outcome()
    if question is not None and (topic is None or understood.confidence < CLEARLY):
        asked_again = aftermath.ask_again(scene, who, question)
        if asked_again is not None:
            return asked_again
    outcome = _remember_fryer(who, understood) + _answer(scene, who, understood)
    return outcome if question is None else _settled_by(who, outcome)


def _settled_by(who: Speaker, outcome: Outcome) -> Outcome:
    """An open question is dropped once somebody turns to other work: a later "ok" must not answer it."""
    if any(isinstance(change, r.Asked) for change in outcome.changes):
        return outcome
    if not any(isinstance(change, (*hearing.LOGS, *hearing.WALKS)) for change in outcome.changes):
        return outcome
    return Outcome((r.Settled(who.chat, who.person.id),)) + outcome


def _in_walk(scene: Scene, who: Speaker, topic: str) -> Outcome | None:
    """A "yes" or "no" to nothing but the walk that this person is on; None where they are on none."""
    walk = scene.state.walks.get(who.person.id)
    if walk is None or walk.chat != who.chat:
        return None
    if topic == "talk.yes":
        return guides.move(scene, who, 0 if walk.offered else +1)
    return waits.no_click(scene, who)


def _answer(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    topic = understood.topic
    walk = scene.state.walks.get(who.person.id)
    if walk is not None and understood.said_number is not None and topic is None:
        moved = guides.number_said(scene, who, walk, understood.said_number)
        if moved is not None:
            return moved
    if topic in ("talk.yes", "talk.no") and asking.open_question(scene, who) is None:
        moved = _in_walk(scene, who, topic)
        if moved is not None:
            return moved
    own = duties.own_duty_named(scene, understood.text) if _may_be_own(understood) else None
    if own is not None and (topic is None or understood.slots.duty != own.id or understood.confidence < RISKY):
        return duties.was_it_done(scene, who, own)
    if topic is None:
        if understood.slots.not_done:
            return duties.not_done(scene, who, understood.slots)
        return _unsure(scene, who, understood)
    shape = scene.library.guides.get(topic)
    if shape is not None and shape.risk == "high" and understood.confidence < RISKY:
        others = [choice.topic for choice in understood.choices]
        if len(others) > 1:
            return talk.did_you_mean(scene, who, understood, others)
    outcome = topics.answer(scene, who, topic, understood)
    if walk is not None and walk.chat == who.chat and not topic.startswith("walk."):
        return _then_carry_on(scene, who, outcome)
    return outcome


def _may_be_own(understood: Understood) -> bool:
    """Whether a message may speak of a duty that only this kitchen knows, and that was not recognised in it."""
    topic = understood.topic
    unsure = topic is None or topic == "log.done" or understood.confidence < CLEARLY
    return unsure and not understood.slots.not_done


def _then_carry_on(scene: Scene, who: Speaker, outcome: Outcome) -> Outcome:
    """An interrupted walk is offered again, unless the answer began another one."""
    if any(isinstance(change, r.WalkMoved | r.Asked) for change in outcome.changes):
        return outcome
    return outcome + guides.carry_on(scene, who)


def _unsure(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    likely = [choice.topic for choice in understood.choices]
    if understood.topic is None and likely and understood.choices[0].confidence >= MAYBE:
        return talk.did_you_mean(scene, who, understood, likely)
    return talk.dont_know(scene, who, understood)


def _remember_fryer(who: Speaker, understood: Understood) -> Outcome:
    fryer = understood.slots.fryer
    return Outcome((r.FryerMentioned(who.person.id, fryer),)) if fryer is not None else Outcome()
