"""Which skill answers which topic."""

from __future__ import annotations

from collections.abc import Callable

from bot.core.messages import Outcome
from bot.core.scene import Scene, Speaker
from bot.core.skills import (
    aftermath,
    asked_training,
    duties,
    duty_times,
    faults,
    guides,
    moving,
    oil,
    service,
    speaking,
    summaries,
    supplies,
    talk,
    undoing,
    waits,
)
from intents.types import Slots, Understood

Skill = Callable[[Scene, Speaker, Understood], Outcome]


def answer(scene: Scene, who: Speaker, topic: str, understood: Understood) -> Outcome:
    """Answer a message whose topic is settled."""
    if topic.startswith("guide."):
        guide = scene.library.guides.get(topic)
        if guide is not None and guide.resets is not None:
            return waits.reset_wanted(scene, who, guide.resets, understood.slots)
        return guides.asked(scene, who, topic, understood.slots)
    if topic.startswith("fault."):
        return faults.asked(scene, who, topic, understood.slots)
    skill = _SKILLS.get(topic)
    return skill(scene, who, understood) if skill is not None else talk.dont_know(scene, who, understood)


def known(scene: Scene) -> tuple[str, ...]:
    """Every topic that a message can be about."""
    emergencies = (f"emergency.{what}" for what in scene.library.emergencies)
    return tuple(dict.fromkeys((*scene.library.guides, *scene.library.faults, *_SKILLS, *emergencies)))


def _by_slots(skill: Callable[[Scene, Speaker, Slots], Outcome]) -> Skill:
    return lambda scene, who, understood: skill(scene, who, understood.slots)


def _plain(skill: Callable[[Scene, Speaker], Outcome]) -> Skill:
    return lambda scene, who, understood: skill(scene, who)


_SKILLS: dict[str, Skill] = {
    "cooldown.start": _by_slots(waits.start),
    "cooldown.status": _by_slots(waits.status),
    "cooldown.cancel": _by_slots(waits.cancel),
    "log.done": duties.done,
    "log.undo": _by_slots(undoing.undo),
    "log.drops": _by_slots(oil.log_drops),
    "log.oil_test": _by_slots(oil.log_test),
    "log.temperature": _by_slots(oil.log_temperature),
    "log.out_of_service": _by_slots(service.down),
    "log.back_in_service": _by_slots(service.up),
    "log.note": lambda scene, who, u: talk.note(scene, who, u.slots, u.text),
    "ask.due": _by_slots(duty_times.due),
    "ask.last_done": _by_slots(duty_times.last_done),
    "ask.summary": _by_slots(summaries.asked),
    "ask.forecast": _by_slots(oil.forecast),
    "ask.supplies": _by_slots(supplies.left),
    "ask.service_contact": _by_slots(service.contact),
    "ask.equipment": _by_slots(service.equipment),
    "remind.snooze": _by_slots(duties.snooze),
    "walk.next": lambda scene, who, u: guides.move(scene, who, +1),
    "walk.back": lambda scene, who, u: guides.move(scene, who, -1),
    "walk.repeat": lambda scene, who, u: guides.move(scene, who, 0),
    "walk.stop": _plain(guides.stop),
    "walk.how_long": waits.how_long,
    "talk.yes": _plain(talk.nothing_asked),
    "talk.no": _plain(talk.nothing_asked),
    "talk.help": _plain(talk.help_lines),
    "talk.hello": _plain(talk.hello),
    "talk.thanks": _plain(talk.thanks),
    "talk.language": talk.language,
    "talk.person": _plain(talk.person),
    "duty.move": _by_slots(moving.asked),
    "duty.skimmed": _plain(duties.no_duty),
    "talk.all_well": _plain(aftermath.all_well),
    "train.who": _by_slots(asked_training.who_is_trained),
    "train.check": _by_slots(asked_training.check),
    "train.sign_off": asked_training.sign_off,
    "talk.speak": _plain(speaking.speak),
    "talk.text_only": _plain(speaking.text_only),
}
