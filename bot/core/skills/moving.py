"""Moving a duty to another time of day, by a manager, in chat. The kitchen file stays what it is; this lies over it."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from bot.core import records as r
from bot.core.actions import action
from bot.core.kitchen import Duty
from bot.core.messages import CREW, Button, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker, duty_words
from bot.core.skills import asking
from intents.types import Slots

STEPS = (timedelta(hours=-1), timedelta(minutes=-30), timedelta(minutes=30), timedelta(hours=1))
"""By how much a button moves a duty."""

MOST_BUTTONS = 12


def panel(scene: Scene, who: Speaker) -> Outcome:
    """Every duty with a time of day, to choose the one to move."""
    if who.person.role != "manager":
        return _refused(scene, who)
    movable = [duty for duty in scene.rules.duties if duty.at is not None][:MOST_BUTTONS]
    if not movable:
        return scene.answer(who, Words("move.nothing"))
    buttons = tuple(
        Button(Words("move.duty", {"duty": duty_words(d.id), "at": _today(scene, d)}), action("move", d.id))
        for d in movable
    )
    return asking.ask(scene, who, (Words("move.which"),), buttons)


def asked(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Move the duty to the time that a message names; ask for what it leaves open."""
    if who.person.role != "manager":
        return _refused(scene, who)
    if slots.duty is None:
        return panel(scene, who)
    if slots.clock is None or slots.clock_is_vague:
        return times(scene, who, slots.duty) or scene.answer(who, Words("move.nothing"))
    return move(scene, who, slots.duty, slots.clock) or scene.answer(who, Words("move.nothing"))


def times(scene: Scene, who: Speaker, duty_id: str) -> Outcome | None:
    """Earlier and later times for one duty, as buttons; None for one that has no time of day."""
    duty = scene.days.duties.get(duty_id)
    if duty is None or duty.at is None:
        return None
    if who.person.role != "manager":
        return _refused(scene, who)
    present = duty.at
    buttons = []
    for step in STEPS:
        at = (datetime.combine(scene.today, present) + step).time()
        label = Words("move.to", {"at": scene.days.at(scene.today, at)})
        buttons.append(Button(label, action("moveto", duty_id, f"{at:%H%M}")))
    line = Words("move.now", {"duty": duty_words(duty_id), "at": _today(scene, duty)})
    return scene.answer(who, line, buttons=tuple(buttons))


def move(scene: Scene, who: Speaker, duty_id: str, clock: str) -> Outcome | None:
    """Let a duty fall due at another wall time ("21:00" or "2100") from its next occurrence on; the crew hears of it.

    None for a duty that has no time of day. Raises ``ValueError`` for what is no wall time.
    """
    at = _wall(clock)
    duty = scene.days.duties.get(duty_id)
    if duty is None or duty.at is None:
        return None
    if who.person.role != "manager":
        return _refused(scene, who)
    params = {"duty": duty_words(duty_id), "before": _today(scene, duty), "at": scene.days.at(scene.today, at)}
    if at == duty.at:
        return scene.answer(who, Words("move.already", params))
    back = Button(Words("button.undo"), action("moveto", duty_id, f"{duty.at:%H%M}"))
    moved = r.DutyMoved(duty_id, at, who.person.id)
    told = scene.answer(who, Words("move.done", params), buttons=(back,), changes=(moved,))
    if who.chat == CREW:
        return told
    heard = Words("move.heard", {**params, "by": who.person.name})
    return told + Outcome(replies=(Reply(CREW, "reply", (heard,)),))


def _refused(scene: Scene, who: Speaker) -> Outcome:
    managers = tuple(p.name for p in scene.kitchen.with_role("manager"))
    return scene.answer(who, Words("move.managers_only", {"who": managers}) if managers else Words("ask.nobody"))


def _wall(clock: str) -> time:
    digits = clock.replace(":", "")
    if len(digits) != 4 or not digits.isdecimal():
        raise ValueError(clock)
    return time(int(digits[:2]), int(digits[2:]))


def _today(scene: Scene, duty: Duty) -> datetime:
    """The duty's time of day, as an instant of this kitchen day, so that it is said as times are."""
    return scene.days.at(scene.today, duty.at or time())
