"""Guides: facts in one message, or a walk that is led step by step.

Nobody under 16 is led through work with hot oil, and no reset is walked before its wait is over.
"""

from __future__ import annotations

from bot.core import cool_oil, cooldown, records as r
from bot.core.actions import action
from bot.core.kitchen import Fryer, Power
from bot.core.library import GuideShape
from bot.core.messages import Attachment, Button, Outcome, Reply, Words
from bot.core.pieces import Walk
from bot.core.scene import Scene, Speaker, duty_words, fryer_words, slot_words
from bot.core.skills import asking, service, training
from intents.types import Part, Slots

CAUTIONS = 0
"""The step of a walk at which its cautions and gear are read, before step one."""


def asked(scene: Scene, who: Speaker, topic: str, slots: Slots) -> Outcome:
    """Answer a how-to question: refuse what is unsafe for this person, ask what is open, or open the guide."""
    guide = scene.library.guides.get(topic)
    if guide is None:
        return _no_guide(scene, who, topic)
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    return open_guide(scene, who, guide, slots.fryer)


def open_guide(scene: Scene, who: Speaker, guide: GuideShape, fryer: str | None) -> Outcome:
    """Open a guide at its cautions, or give its facts at once."""
    if guide.kind == "walk" and guide.hot_oil and who.person.under_16:
        return too_young(scene, who, guide)
    if guide.resets is not None and not cooldown.may_reset(scene, fryer, guide.resets):
        return _reset_not_open(scene, who, guide.resets, fryer)
    if guide.by_power and fryer is None:
        powers = {f.power for f in scene.kitchen.fryers}
        if len(powers) > 1:
            question = Words("ask.which_fryer_guide", {"guide": _title(guide)})
            return asking.which_fryer(scene, who, lambda f: action("walk", guide.topic, f), question)
        fryer = scene.kitchen.fryers[0].id
    if guide.kind == "answer":
        return _facts(scene, who, guide, fryer)
    moved = r.WalkMoved(who.person.id, who.chat, guide.topic, fryer, CAUTIONS)
    return _show(scene, who, guide, fryer, CAUTIONS, edit=False, changes=(moved,))


def go(scene: Scene, who: Speaker, topic: str, fryer: str | None, place: int, edit: bool) -> Outcome:
    """Move a walk to a place: 0 for its cautions, n for the nth step that this fryer needs, beyond for the end."""
    guide = scene.library.guides.get(topic)
    if guide is None:
        return _no_guide(scene, who, topic)
    if guide.hot_oil and who.person.under_16:
        return too_young(scene, who, guide)
    if guide.resets is not None and not cooldown.may_reset(scene, fryer, guide.resets):
        return _reset_not_open(scene, who, guide.resets, fryer)
    if _too_hot(scene, who, guide, fryer, place):
        place -= 1
    if place > len(guide.steps_for(_power(scene, fryer))):
        return _finish(scene, who, guide, fryer)
    place = max(place, CAUTIONS)
    changes: tuple[r.Change, ...] = (r.WalkMoved(who.person.id, who.chat, topic, fryer, place),)
    if guide.resets is not None and fryer is not None and place == len(guide.steps_for(_power(scene, fryer))):
        changes += (r.ResetShown(fryer, guide.resets),)
    return _show(scene, who, guide, fryer, place, edit=edit, changes=changes)


def move(scene: Scene, who: Speaker, by: int) -> Outcome:
    """Next (+1), back (-1) or repeat (0), said in words, in the walk that this person is on."""
    walk = scene.state.walks.get(who.person.id)
    if walk is None:
        return scene.answer(who, Words("walk.none"))
    return go(scene, who, walk.topic, walk.fryer, walk.step + by, edit=False)


def how_long(scene: Scene, who: Speaker) -> Outcome:
    """How far the walk has got, and how long the whole of it takes, where its guide says so."""
    walk = scene.state.walks.get(who.person.id)
    guide = scene.library.guides.get(walk.topic) if walk is not None else None
    if walk is None or guide is None:
        return scene.answer(who, Words("walk.none"))
    of = len(guide.steps_for(_power(scene, walk.fryer)))
    lines = [Words("walk.where", {"n": max(walk.step, 1), "of": of, "guide": _title(guide)})]
    if guide.takes:
        lines.append(_part(guide, "takes", walk.fryer))
    return scene.answer(who, *lines)


def stop(scene: Scene, who: Speaker) -> Outcome:
    """Leave the walk."""
    walk = scene.state.walks.get(who.person.id)
    if walk is None or walk.topic not in scene.library.guides:
        return scene.answer(who, Words("walk.none"))
    buttons = (Button(Words("button.carry_on"), action("go", walk.topic, walk.fryer, walk.step)),)
    ended = r.WalkEnded(who.person.id, finished=False)
    title = Words(f"{walk.topic}/title")
    return scene.answer(who, Words("walk.stopped", {"guide": title}), buttons=buttons, changes=(ended,))


def carry_on(scene: Scene, who: Speaker) -> Outcome:
    """The offer to go on with an interrupted walk, to be said after whatever interrupted it first.

    Nothing where the walk hasn't come to a step, or the offer was made since: "next" goes on all the same.
    """
    walk = scene.state.walks.get(who.person.id)
    if walk is None or walk.chat != who.chat or walk.topic not in scene.library.guides:
        return Outcome()
    if walk.step == CAUTIONS or walk.offered:
        return Outcome()
    buttons = (
        Button(Words("button.carry_on"), action("go", walk.topic, walk.fryer, walk.step)),
        Button(Words("button.stop"), action("stop")),
    )
    line = Words("walk.waiting", {"guide": Words(f"{walk.topic}/title"), "step": walk.step})
    offered = r.WalkMoved(who.person.id, who.chat, walk.topic, walk.fryer, walk.step, offered=True)
    return scene.answer(who, line, buttons=buttons, changes=(offered,))


def at_last_step(scene: Scene, walk: Walk) -> bool:
    """Whether a walk has come to the last step that its fryer needs."""
    guide = scene.library.guides.get(walk.topic)
    return guide is not None and walk.step == len(guide.steps_for(_power(scene, walk.fryer)))


def number_said(scene: Scene, who: Speaker, walk: Walk, number: int) -> Outcome | None:
    """A bare number in a walk goes to that step, where there is one; in a reset no check is skipped on the way."""
    guide = scene.library.guides.get(walk.topic)
    if guide is None or not 1 <= number <= len(guide.steps_for(_power(scene, walk.fryer))):
        return None
    if guide.resets is not None:
        number = min(number, walk.step + 1)
    return go(scene, who, walk.topic, walk.fryer, number, edit=False)


def pages(scene: Scene, who: Speaker, guide: GuideShape, fryer: str | None) -> list[Reply]:
    """A guide from its cautions to its last step, message by message, as it would be shown to this person."""
    if guide.kind == "answer":
        return list(_facts(scene, who, guide, fryer).replies)
    places = range(len(guide.steps_for(_power(scene, fryer))) + 1)
    return [reply for place in places for reply in _show(scene, who, guide, fryer, place, False, ()).replies]


def _show(
    scene: Scene,
    who: Speaker,
    guide: GuideShape,
    fryer: str | None,
    place: int,
    edit: bool,
    changes: tuple[r.Change, ...],
) -> Outcome:
    numbers = guide.steps_for(_power(scene, fryer))
    last = place == len(numbers)
    files: tuple[Attachment, ...] = ()
    if place == CAUTIONS:
        title, *rest = _opening(guide, fryer)
        lines = [title, *training.ask_a_lead(scene, who, guide), *rest]
    else:
        step = numbers[place - 1]
        shape = guide.steps[step - 1]
        text = Words(f"{guide.topic}/step.{step}", _common(fryer))
        lines = [Words("walk.step", {"n": place, "of": len(numbers), "text": text})]
        if shape.see:
            lines.append(Words("walk.see", {"text": Words(f"{guide.topic}/step.{step}.see", _common(fryer))}))
        if shape.if_not:
            lines.append(Words("walk.if_not", {"text": Words(f"{guide.topic}/step.{step}.if_not", _common(fryer))}))
        if shape.cool:
            lines.append(_heat(scene, fryer))
        if shape.picture is not None:
            files = (Attachment("guide_picture", name=shape.picture),)
    forward = "button.start" if place == CAUTIONS else "button.finish" if last else "button.next"
    buttons = [Button(Words(forward), action("go", guide.topic, fryer, place + 1))]
    if place > CAUTIONS:
        buttons.append(Button(Words("button.back"), action("go", guide.topic, fryer, place - 1)))
    buttons.append(Button(Words("button.stop"), action("stop")))
    reply = Reply(
        who.chat,
        "reply",
        tuple(lines),
        tuple(buttons),
        key=f"walk|{who.person.id}",
        edit=edit,
        files=files,
        language=scene.language_of(who.person),
    )
    return Outcome(changes, (reply,))


def _opening(guide: GuideShape, fryer: str | None) -> list[Words]:
    """Title, when not to, cautions, gear, time: the cautions stand before anything else to do."""
    title = _title(guide)
    lines = [
        Words("walk.title_on", {"guide": title, "fryer": fryer_words(fryer)})
        if fryer is not None
        else Words("walk.title", {"guide": title})
    ]
    lines += [Words("walk.caution", {"text": _part(guide, f"caution.{n}", fryer)}) for n in _count(guide.cautions)]
    lines += [Words("walk.not_when", {"text": _part(guide, f"not_when.{n}", fryer)}) for n in _count(guide.not_when)]
    if guide.gear:
        gear = tuple(_part(guide, f"gear.{n}", fryer) for n in _count(guide.gear))
        lines.append(Words("walk.gear", {"gear": gear}))
    if guide.takes:
        lines.append(_part(guide, "takes", fryer))
    return lines


def _facts(scene: Scene, who: Speaker, guide: GuideShape, fryer: str | None) -> Outcome:
    lines = [Words("walk.title", {"guide": _title(guide)})]
    lines += [Words("walk.caution", {"text": _part(guide, f"caution.{n}", fryer)}) for n in _count(guide.cautions)]
    lines += [Words("walk.not_when", {"text": _part(guide, f"not_when.{n}", fryer)}) for n in _count(guide.not_when)]
    files: list[Attachment] = []
    for number in guide.steps_for(_power(scene, fryer)):
        shape = guide.steps[number - 1]
        lines.append(Words("walk.fact", {"text": _part(guide, f"step.{number}", fryer)}))
        if shape.see:
            lines.append(Words("walk.see", {"text": _part(guide, f"step.{number}.see", fryer)}))
        if shape.if_not:
            lines.append(Words("walk.if_not", {"text": _part(guide, f"step.{number}.if_not", fryer)}))
        if shape.picture is not None:
            files.append(Attachment("guide_picture", name=shape.picture))
    reply = Reply(who.chat, "reply", tuple(lines), files=tuple(files), language=scene.language_of(who.person))
    return Outcome(replies=(reply,))


def _finish(scene: Scene, who: Speaker, guide: GuideShape, fryer: str | None) -> Outcome:
    ended = r.WalkEnded(who.person.id, finished=True)
    check = training.check_button(scene, who, guide)
    if guide.resets is not None and fryer is not None:
        yes = Button(Words("button.clicked"), action("clicked", guide.resets, fryer, "yes"))
        no = Button(Words("button.no_click"), action("clicked", guide.resets, fryer, "no"))
        question = Words("reset.clicked", cooldown.params(guide.resets, fryer))
        return asking.yes_no(scene, who, (question,), yes, no, (ended,))
    if guide.logs is not None:
        kind = scene.library.duties.get(guide.logs)
        if kind is not None and kind.per_fryer and fryer is None:
            question = Words("walk.log_which", {"duty": duty_words(guide.logs)})
            asked_which = asking.which_fryer(scene, who, lambda f: action("done", guide.logs, f), question)
            return Outcome((ended,)) + asked_which
        yes = Button(Words("button.log_it"), action("done", guide.logs, fryer))
        no = Button(Words("button.not_yet"), action("no"))
        line = Words("walk.log_it", {"what": slot_words(guide.logs, fryer)})
        answers = (("yes", yes.action), ("no", no.action))
        return asking.ask(scene, who, (line,), (yes, no, *check), answers, changes=(ended,))
    return scene.answer(who, Words("walk.finished", {"guide": _title(guide)}), buttons=check, changes=(ended,))


def _too_hot(scene: Scene, who: Speaker, guide: GuideShape, fryer: str | None, place: int) -> bool:
    """Whether the step just before asks for cool oil, and the log knows that it isn't."""
    numbers = guide.steps_for(_power(scene, fryer))
    if not 2 <= place <= len(numbers) + 1 or not guide.steps[numbers[place - 2] - 1].cool:
        return False
    walk = scene.state.walks.get(who.person.id)
    if walk is None or (walk.topic, walk.step) != (guide.topic, place - 1):
        return False
    reading = cool_oil.latest(scene.state, fryer, scene.now)
    return reading is not None and not reading.cool


def _heat(scene: Scene, fryer: str | None) -> Words:
    """What a step that needs cool oil asks for: a reading, or that they wait."""
    reading = cool_oil.latest(scene.state, fryer, scene.now)
    if reading is None:
        return Words("walk.need_reading")
    params = {"value": reading.value, "unit": Words(f"unit.{reading.unit}"), "at": reading.at}
    return Words("walk.is_cool" if reading.cool else "walk.too_hot", params)


def too_young(scene: Scene, who: Speaker, guide: GuideShape) -> Outcome:
    """Refuse a walk to somebody under 16: why, by what rule, whom to ask, and what they may do."""
    leads = tuple(p.name for p in scene.kitchen.with_role("lead", "manager"))
    return scene.answer(who, Words("young.refused", {"guide": _title(guide), "who": leads}), Words("young.may"))


def _reset_not_open(scene: Scene, who: Speaker, part: Part, fryer: str | None) -> Outcome:
    ask = Button(Words("button.ask_reset"), action("reset", part, fryer))
    return scene.answer(who, Words("reset.not_open", {"part": cooldown.part_words(part)}), buttons=(ask,))


def _no_guide(scene: Scene, who: Speaker, topic: str) -> Outcome:
    return scene.answer(who, Words("guide.missing", {"topic": Words(f"topic.{topic}")}), service.whom_to_ask(scene))


def _title(guide: GuideShape) -> Words:
    return Words(f"{guide.topic}/title")


def _part(guide: GuideShape, part: str, fryer: str | None) -> Words:
    return Words(f"{guide.topic}/{part}", _common(fryer))


def _common(fryer: str | None) -> dict[str, Words]:
    return {"fryer": fryer_words(fryer) if fryer is not None else Words("fryer.your")}


def _count(n: int) -> range:
    return range(1, n + 1)


def _power(scene: Scene, fryer: str | None) -> Power | None:
    found: Fryer | None = scene.kitchen.fryer(fryer) if fryer is not None else None
    return found.power if found is not None else None
