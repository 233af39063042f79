"""A dangerous act that somebody announces or asks about: the warning, and what would be safe, as buttons only.

Nothing is logged by such a message and nothing is opened by itself, whatever else it says.
"""

from __future__ import annotations

from dataclasses import replace

from bot.core import cooldown
from bot.core.actions import action
from bot.core.messages import Button, Outcome, Words
from bot.core.pieces import Wait
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking
from intents.types import Slots, Understood

RESET_EARLY = "reset_early"


def warn(scene: Scene, who: Speaker, danger: str, understood: Understood) -> Outcome | None:
    """Warn of a danger, in the language of the message; None where what was said is no danger as things stand."""
    shape = scene.library.dangers.get(danger)
    if shape is None:
        return None
    fryer = understood.slots.fryer or asking.mentioned_fryer(scene, who)
    offers = shape.offers
    if danger == RESET_EARLY:
        if _is_over(scene, understood.slots, fryer):
            return None
        offers = ("cooldown.status",) if _running(scene) else ("cooldown.start",)
    buttons = tuple(
        Button(Words(f"topic.{topic}"), action("topic", topic, understood.slots.fryer))
        for topic in offers
        if _fit_for(scene, who, topic)
    )
    told = scene.answer(who, Words(f"danger.{danger}/warning"), buttons=buttons)
    return Outcome(replies=tuple(replace(reply, language=understood.language) for reply in told.replies))


def warning(scene: Scene, danger: str | None) -> Words | None:
    """The warning of a danger, where there is one."""
    return Words(f"danger.{danger}/warning") if danger in scene.library.dangers else None


def _is_over(scene: Scene, slots: Slots, fryer: str | None) -> bool:
    """Whether the wait that is meant is over, so that a reset is just what may be done."""
    return not _running(scene) and any(
        cooldown.may_reset(scene, wait.fryer, wait.part)
        for wait in scene.state.waits.values()
        if fryer in (None, wait.fryer) and slots.part in (None, wait.part)
    )


def _running(scene: Scene) -> list[Wait]:
    return [wait for wait in scene.state.waits.values() if wait.ended is None]


def _fit_for(scene: Scene, who: Speaker, topic: str) -> bool:
    """Whether a topic is there, and nothing that this person would be refused."""
    guide = scene.library.guides.get(topic)
    if guide is None:
        return not topic.startswith("guide.")
    return not (guide.kind == "walk" and guide.hot_oil and who.person.under_16)
