"""Training in the crew's own words: who is trained on what, a check, a sign-off."""

from __future__ import annotations

from bot.core import training as rules
from bot.core.actions import action
from bot.core.kitchen import Person
from bot.core.messages import Button, Outcome, Words
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking, training
from intents.normalise import tokens
from intents.types import Slots, Understood

MOST_BUTTONS = 6


def who_is_trained(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Who is signed off on the guide that is named; the list of guides where none is."""
    found = training.trained(scene, who, slots.guide) if slots.guide else None
    return found or training.panel(scene, who)


def check(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Begin the check of the guide that is named; ask which where none is or it has no questions."""
    begun = training.quiz(scene, who, slots.guide, "") if slots.guide else None
    if begun is not None:
        return begun
    topics = [topic for topic in rules.guides_to_learn(scene) if scene.library.guides[topic].answers]
    buttons = tuple(Button(Words(f"{topic}/title"), action("quiz", topic, None)) for topic in topics[:MOST_BUTTONS])
    return asking.ask(scene, who, (Words("training.which_check"),), buttons)


def sign_off(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    """Offer to sign the person off who is named, on the guide that is named; one tap, since words can be misheard."""
    guide = understood.slots.guide
    if who.person.role not in rules.SIGNERS:
        return scene.answer(who, Words("training.not_yours"))
    if guide is None or guide not in scene.library.guides:
        return training.panel(scene, who)
    person = _named(scene, understood.text)
    if person is None:
        return who_is_trained(scene, who, understood.slots)
    sign = Button(Words("button.sign_off", {"name": person.name}), action("sign", guide, person.id))
    line = Words("training.sign_off_now", {"name": person.name, "guide": Words(f"{guide}/title")})
    return asking.ask(scene, who, (line,), (sign,))


def _named(scene: Scene, text: str) -> Person | None:
    """The one person of the kitchen whose name stands in ``text``."""
    words = set(tokens(text))
    found = [person for person in scene.kitchen.people if words & {person.id.casefold(), *tokens(person.name)[:1]}]
    return found[0] if len(found) == 1 else None
