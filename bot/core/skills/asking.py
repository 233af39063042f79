"""Asking back: an open question, its buttons, and how a short answer is read against them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from bot.core import records as r
from bot.core.messages import Button, Outcome, Words
from bot.core.pieces import Question
from bot.core.scene import Scene, Speaker, fryer_words
from intents.types import Understood

OPEN_FOR = timedelta(minutes=15)
"""A short answer is read against a question this old, no older; common practice: people forget what was asked."""

ALL_WELL = "talk.all_well"
CERTAIN_OF_ALL_WELL = 0.9
"""From this confidence on "it is out, everybody is ok" answers whether an emergency is over; below, that is asked."""

MENTION_LASTS = timedelta(minutes=10)
"""How long the fryer just talked about is taken for the one that is meant."""


def ask(
    scene: Scene,
    who: Speaker,
    lines: tuple[Words, ...],
    buttons: tuple[Button, ...],
    answers: tuple[tuple[str, str], ...] = (),
    key: str | None = None,
    changes: tuple[r.Change, ...] = (),
) -> Outcome:
    """Ask one person something. ``answers`` names short answers beside the buttons' numbers: "yes", "fryer:2"."""
    options = [r.Option(answer, act) for answer, act in answers]
    options += [r.Option(str(number), button.action) for number, button in enumerate(buttons, 1)]
    if not options:
        return scene.answer(who, *lines, changes=changes, key=key)
    asked = r.Asked(who.chat, who.person.id, tuple(options))
    return scene.answer(who, *lines, buttons=buttons, changes=(*changes, asked), key=key)


def yes_no(
    scene: Scene,
    who: Speaker,
    lines: tuple[Words, ...],
    yes: Button,
    no: Button,
    changes: tuple[r.Change, ...] = (),
) -> Outcome:
    """A question that "yes" and "no" answer, by word or by tap."""
    answers = (("yes", yes.action), ("no", no.action))
    return ask(scene, who, lines, (yes, no), answers, changes=changes)


def which_fryer(
    scene: Scene,
    who: Speaker,
    act: Callable[[str], str],
    question: Words | None = None,
    besides: tuple[Button, ...] = (),
) -> Outcome:
    """Ask which fryer is meant; ``act`` gives the action for each. ``besides`` are further buttons."""
    buttons = tuple(
        Button(Words("fryer.button", {"id": f.id, "name": f.names[0] if f.names else ""}), act(f.id))
        if f.names
        else Button(fryer_words(f), act(f.id))
        for f in scene.kitchen.fryers
    )
    answers = tuple((f"fryer:{f.id}", act(f.id)) for f in scene.kitchen.fryers)
    return ask(scene, who, (question or Words("ask.which_fryer"),), (*buttons, *besides), answers)


def unknown_fryer(scene: Scene, who: Speaker, said: str) -> Outcome:
    """Say plainly that there is no such fryer, and which there are."""
    known = tuple(fryer_words(f) for f in scene.kitchen.fryers)
    return scene.answer(who, Words("ask.unknown_fryer", {"said": said, "known": known}))


def mentioned_fryer(scene: Scene, who: Speaker) -> str | None:
    """The fryer that this person talked about in the last ten minutes, or None."""
    mention = scene.state.mentions.get(who.person.id)
    if mention is None or scene.now - mention.at > MENTION_LASTS:
        return None
    return mention.fryer


def open_question(scene: Scene, who: Speaker) -> Question | None:
    """What this person was asked in this chat and has not answered, while it is fresh."""
    question = scene.state.questions.get(f"{who.chat}|{who.person.id}")
    if question is None or scene.now - question.at > OPEN_FOR:
        return None
    return question


def answered(question: Question, understood: Understood) -> str | None:
    """The action that a short answer chooses, or None where the message is no answer to the question."""
    options = {option.answer: option.action for option in question.options}
    if understood.topic == ALL_WELL and understood.confidence >= CERTAIN_OF_ALL_WELL:
        yes = options.get("yes", "")
        return yes if yes.startswith("after:") else None
    if understood.topic == "talk.yes":
        return options.get("yes")
    if understood.topic == "talk.no":
        return options.get("no")
    if understood.topic == "walk.stop":
        return options.get("stop")
    if understood.said_fryer is not None and f"fryer:{understood.said_fryer}" in options:
        return options[f"fryer:{understood.said_fryer}"]
    if understood.said_number is not None and not any(a.startswith("fryer:") for a in options):
        return options.get(str(understood.said_number))
    return None
