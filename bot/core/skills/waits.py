"""Cool-down waits before a reset, and the reset itself; ``bot.core.cooldown`` holds the rules."""

from __future__ import annotations

from datetime import timedelta
from math import ceil

from bot.core import cooldown, records as r
from bot.core.actions import action
from bot.core.messages import Button, Outcome, Reply, Words
from bot.core.pieces import Wait, slot_key
from bot.core.scene import Scene, Speaker
from bot.core.skills import asking, guides, service
from intents.types import Language, Part, Slots, Understood

RESET_GUIDES: dict[Part, str] = {"pump": "guide.reset_pump", "high_limit": "guide.reset_high_limit"}


def reset_wanted(scene: Scene, who: Speaker, part: Part, slots: Slots) -> Outcome:
    """Somebody wants to reset: lead through it if its wait is over, else say how long, or offer the wait."""
    fryer = _fryer_of(scene, who, slots)
    if slots.unknown_fryer is not None and fryer is None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    if fryer is None:
        question = Words("wait.which_fryer", {"part": cooldown.part_words(part)})
        return asking.which_fryer(scene, who, lambda f: action("reset", part, f), question)
    wait = scene.state.waits.get(slot_key(part, fryer))
    if wait is not None and wait.ended is None:
        return _still_waiting(scene, who, wait)
    if cooldown.needs_service(scene, part, fryer):
        return _to_service(scene, who, part, fryer)
    guide = scene.library.guides.get(RESET_GUIDES[part])
    if guide is not None and guide.hot_oil and who.person.under_16:
        return guides.too_young(scene, who, guide)
    if cooldown.may_reset(scene, fryer, part):
        if wait is not None and wait.shown:
            return _did_it_click(scene, who, part, fryer)
        return _open_reset(scene, who, part, fryer)
    yes = Button(Words("button.start_wait", {"length": scene.kitchen.cool_down}), action("wait", part, fryer))
    no = Button(Words("button.not_now"), action("no"))
    params = cooldown.params(part, fryer) | {"length": scene.kitchen.cool_down}
    lines = (Words("wait.offer_caution", params), Words("wait.offer", params))
    return asking.yes_no(scene, who, lines, yes, no)


def start(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Start the cool-down that a message asks for; ask for what it leaves open."""
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    fryer = _fryer_of(scene, who, slots)
    if slots.part is None:
        buttons = tuple(Button(cooldown.part_words(p), action("wait", p, fryer)) for p in cooldown.PARTS)
        return asking.ask(scene, who, (Words("wait.which_part"),), buttons)
    part = slots.part
    if fryer is None:
        question = Words("wait.which_fryer", {"part": cooldown.part_words(part)})
        return asking.which_fryer(scene, who, lambda f: action("wait", part, f), question)
    return start_wait(scene, who, part, fryer)


def start_wait(scene: Scene, who: Speaker, part: Part, fryer: str | None) -> Outcome:
    """Start the cool-down of one part of one fryer. One that runs is not started anew."""
    if fryer is None:
        return start(scene, who, Slots(part=part))
    wait = scene.state.waits.get(slot_key(part, fryer))
    if wait is not None and wait.ended is None:
        return _still_waiting(scene, who, wait)
    if cooldown.needs_service(scene, part, fryer):
        return _to_service(scene, who, part, fryer)
    ends_at = scene.now + scene.kitchen.cool_down
    started = r.WaitStarted(fryer, part, ends_at, who.person.id, who.chat)
    shown = countdown(scene, _wait(scene, started), edit=False)
    return Outcome((started, r.FryerMentioned(who.person.id, fryer)), (shown,))


def how_long(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    """How long it takes: a wait that runs comes first, then the walk that this person is on."""
    if any(wait.ended is None for wait in scene.state.waits.values()):
        return status(scene, who, understood.slots)
    return guides.how_long(scene, who)


def status(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """How long is left, of every wait or of the one that is named."""
    running = [
        w
        for w in scene.state.waits.values()
        if w.ended is None
        and (slots.fryer is None or w.fryer == slots.fryer)
        and (slots.part is None or w.part == slots.part)
    ]
    if running:
        lines = tuple(Words("wait.left", _left(scene, w)) for w in running)
        return scene.answer(who, *lines, Words("wait.do_not_reset"))
    over = [
        w
        for w in scene.state.waits.values()
        if cooldown.may_reset(scene, w.fryer, w.part) and (slots.fryer is None or w.fryer == slots.fryer)
    ]
    if over:
        lines = tuple(Words("wait.is_over", cooldown.params(w.part, w.fryer)) for w in over)
        buttons = tuple(
            Button(Words("button.reset_on", {"fryer": w.fryer}), action("reset", w.part, w.fryer)) for w in over
        )
        return scene.answer(who, *lines, buttons=buttons)
    if slots.part is not None:
        return reset_wanted(scene, who, slots.part, slots)
    if scene.state.walks.get(who.person.id) is not None:
        return guides.how_long(scene, who)
    return scene.answer(who, Words("wait.none"))


def cancel(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Stop the wait that is meant; ask where several run."""
    running = [
        w
        for w in scene.state.waits.values()
        if w.ended is None
        and (slots.fryer is None or w.fryer == slots.fryer)
        and (slots.part is None or w.part == slots.part)
    ]
    if not running:
        return scene.answer(who, Words("wait.none"))
    if len(running) > 1:
        buttons = tuple(
            Button(Words("wait.name", cooldown.params(w.part, w.fryer)), action("unwait", w.part, w.fryer))
            for w in running
        )
        return asking.ask(scene, who, (Words("wait.cancel_which"),), buttons)
    return cancel_wait(scene, who, running[0].part, running[0].fryer)


def cancel_wait(scene: Scene, who: Speaker, part: Part, fryer: str) -> Outcome:
    """Stop one wait. What was waited so far does not count."""
    wait = scene.state.waits.get(slot_key(part, fryer))
    if wait is None or wait.ended is not None:
        return scene.answer(who, Words("wait.none"))
    ended = r.WaitEnded(fryer, part, "cancelled", who.person.id)
    line = Words("wait.cancelled", cooldown.params(part, fryer))
    gone = Reply(wait.chat, "countdown", (line,), key=_key(wait), edit=True, language=_language(scene, wait))
    return scene.answer(who, line, changes=(ended,)) + Outcome(replies=(gone,))


def outcome_of_reset(scene: Scene, who: Speaker, part: Part, fryer: str, worked: bool) -> Outcome:
    """Log how the reset went; one that didn't take puts the fryer out of service and calls for service."""
    if not cooldown.may_reset(scene, fryer, part):
        return scene.answer(who, Words("reset.none_open", cooldown.params(part, fryer)))
    tried = r.ResetTried(fryer, part, worked, who.person.id)
    if worked:
        return scene.answer(who, Words("reset.worked", cooldown.params(part, fryer)), changes=(tried,))
    return Outcome((tried,)) + _to_service(scene, who, part, fryer)


def countdown(scene: Scene, wait: Wait, edit: bool) -> Reply:
    """The one message that shows a wait, as it reads now."""
    button = Button(Words("button.cancel_wait"), action("unwait", wait.part, wait.fryer))
    lines = (Words("wait.left", _left(scene, wait)), Words("wait.do_not_reset"))
    return Reply(wait.chat, "countdown", lines, (button,), key=_key(wait), edit=edit, language=_language(scene, wait))


def over(scene: Scene, wait: Wait) -> tuple[Reply, Reply]:
    """The call at the end of a wait, and the countdown's last state."""
    button = Button(Words("button.reset_now"), action("reset", wait.part, wait.fryer))
    params = cooldown.params(wait.part, wait.fryer)
    language = _language(scene, wait)
    shown = Reply(
        wait.chat, "countdown", (Words("wait.was_over", params),), key=_key(wait), edit=True, language=language
    )
    call = Reply(wait.chat, "countdown", (Words("wait.over", params),), (button,), language=language)
    return shown, call


def asked_at_the_end(wait: Wait) -> r.Asked:
    """The question that the call asks whoever started the wait: whether to do the reset now."""
    yes = r.Option("yes", action("reset", wait.part, wait.fryer))
    return r.Asked(wait.chat, wait.by, (yes, r.Option("no", action("no")), r.Option("1", yes.action)))


def no_click(scene: Scene, who: Speaker) -> Outcome | None:
    """A "no" at the last step of a reset: there was no click. None where this person is at no such step."""
    walk = scene.state.walks.get(who.person.id)
    guide = scene.library.guides.get(walk.topic) if walk is not None and walk.chat == who.chat else None
    if walk is None or walk.fryer is None or guide is None or guide.resets is None:
        return None
    wait = scene.state.waits.get(slot_key(guide.resets, walk.fryer))
    if wait is None or not wait.shown or not guides.at_last_step(scene, walk):
        return None
    ended = r.WalkEnded(who.person.id, finished=True)
    return Outcome((ended,)) + outcome_of_reset(scene, who, guide.resets, walk.fryer, worked=False)


def _did_it_click(scene: Scene, who: Speaker, part: Part, fryer: str) -> Outcome:
    """The reset may have been pressed already, and nobody said how it went: that first, for it is pressed only once."""
    yes = Button(Words("button.clicked"), action("clicked", part, fryer, "yes"))
    no = Button(Words("button.no_click"), action("clicked", part, fryer, "no"))
    buttons = (yes, no, Button(Words("button.not_pressed"), action("go", RESET_GUIDES[part], fryer, guides.CAUTIONS)))
    question = Words("reset.pressed_before", cooldown.params(part, fryer))
    return asking.ask(scene, who, (question,), buttons, (("yes", yes.action), ("no", no.action)))


def _open_reset(scene: Scene, who: Speaker, part: Part, fryer: str) -> Outcome:
    guide = scene.library.guides.get(RESET_GUIDES[part])
    if guide is None:
        return scene.answer(who, Words("reset.no_guide", cooldown.params(part, fryer)), service.whom_to_ask(scene))
    return guides.open_guide(scene, who, guide, fryer)


def _still_waiting(scene: Scene, who: Speaker, wait: Wait) -> Outcome:
    return scene.answer(who, Words("wait.refused", _left(scene, wait)), Words("wait.do_not_reset"))


def _to_service(scene: Scene, who: Speaker, part: Part, fryer: str) -> Outcome:
    down = service.take_down(scene, who, fryer, quiet=True)
    lines = service.call_lines(scene, fryer)
    told = scene.answer(who, Words("reset.to_service", cooldown.params(part, fryer)), *lines)
    alerts = service.alert_leads(scene, who, Words("alert.reset_failed", cooldown.params(part, fryer)))
    return down + told + alerts


def _fryer_of(scene: Scene, who: Speaker, slots: Slots) -> str | None:
    if slots.fryer is not None:
        return slots.fryer
    if slots.unknown_fryer is not None:
        return None
    if len(scene.kitchen.fryers) == 1:
        return scene.kitchen.fryers[0].id
    return asking.mentioned_fryer(scene, who)


def _wait(scene: Scene, started: r.WaitStarted) -> Wait:
    return Wait(started.fryer, started.part, scene.now, started.ends_at, started.by, started.chat)


def _left(scene: Scene, wait: Wait) -> dict[str, object]:
    # Rounded up: a wait that has 20 seconds left is not over.
    minutes = max(1, ceil((wait.ends_at - scene.now) / timedelta(minutes=1)))
    return {**cooldown.params(wait.part, wait.fryer), "left": timedelta(minutes=minutes), "until": wait.ends_at}


def _key(wait: Wait) -> str:
    return f"wait|{wait.part}|{wait.fryer}|{int(wait.ends_at.timestamp())}"


def _language(scene: Scene, wait: Wait) -> Language | None:
    person = scene.kitchen.person(wait.by)
    return scene.language_of(person) if person is not None else None
