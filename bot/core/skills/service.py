"""Fryers out of service and back, whom to call, and what stands on the data plate."""

from __future__ import annotations

from bot.core import records as r
from bot.core.actions import action
from bot.core.kitchen import Fryer
from bot.core.messages import Button, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker, fryer_words
from bot.core.skills import asking
from intents.types import Slots


def down(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Take a fryer out of service."""
    fryer = _named(scene, slots)
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    if fryer is None:
        return asking.which_fryer(scene, who, lambda f: action("down", f), Words("service.which_down"))
    return take_down(scene, who, fryer)


def take_down(scene: Scene, who: Speaker, fryer: str, quiet: bool = False) -> Outcome:
    """Log that a fryer is out of service; ``quiet`` where the caller says so in words of its own."""
    if scene.state.out_of_service(fryer, scene.now):
        if quiet:
            return Outcome()
        return scene.answer(who, Words("service.already_down", {"fryer": fryer_words(fryer)}))
    began = r.OutageBegan(scene.next_entry, fryer, who.person.id)
    if quiet:
        return Outcome((began,))
    buttons = (Button(Words("button.undo"), action("undo", began.entry, began.entry)),)
    lines = (Words("service.down", {"fryer": fryer_words(fryer)}), *call_lines(scene, fryer))
    told = alert_leads(scene, who, Words("alert.down", {"fryer": fryer_words(fryer), "by": who.person.name}))
    return scene.answer(who, *lines, buttons=buttons, changes=(began,)) + told


def up(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Put a fryer back in service."""
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    out = [f.id for f in scene.kitchen.fryers if scene.state.out_of_service(f.id, scene.now)]
    fryer = _named(scene, slots) or (out[0] if len(out) == 1 else None)
    if fryer is None:
        if not out:
            return scene.answer(who, Words("service.none_down"))
        return asking.which_fryer(scene, who, lambda f: action("up", f), Words("service.which_up"))
    return bring_up(scene, who, fryer)


def bring_up(scene: Scene, who: Speaker, fryer: str) -> Outcome:
    """Log that a fryer is back in service."""
    if not scene.state.out_of_service(fryer, scene.now):
        return scene.answer(who, Words("service.not_down", {"fryer": fryer_words(fryer)}))
    ended = r.OutageEnded(scene.next_entry, fryer, who.person.id)
    buttons = (Button(Words("button.undo"), action("undo", ended.entry, ended.entry)),)
    told = alert_leads(scene, who, Words("alert.up", {"fryer": fryer_words(fryer), "by": who.person.name}))
    return (
        scene.answer(who, Words("service.up", {"fryer": fryer_words(fryer)}), buttons=buttons, changes=(ended,)) + told
    )


def contact(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Whom to call for repair, and what they will ask for."""
    lines = call_lines(scene, slots.fryer) or (whom_to_ask(scene),)
    return scene.answer(who, *lines)


def equipment(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Model, serial number and power of one fryer, or of all."""
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    named = scene.kitchen.fryer(slots.fryer) if slots.fryer is not None else None
    fryers = (named,) if named is not None else scene.kitchen.fryers
    return scene.answer(who, *(_plate(f) for f in fryers))


def call_lines(scene: Scene, fryer: str | None) -> tuple[Words, ...]:
    """Lines for a call to service: the number, and the fryer's model and serial number."""
    lines = []
    if scene.kitchen.service_contact is not None:
        lines.append(Words("service.contact", {"contact": scene.kitchen.service_contact}))
    else:
        lines.append(Words("service.no_contact"))
    found = scene.kitchen.fryer(fryer) if fryer is not None else None
    if found is not None:
        lines.append(_plate(found))
    return tuple(lines)


def whom_to_ask(scene: Scene) -> Words:
    """The people to ask where the helper has no answer: the trainer, then a lead, then a manager."""
    people = scene.kitchen.with_role("trainer") + scene.kitchen.with_role("lead")
    names = tuple(p.name for p in people or scene.kitchen.with_role("manager"))
    return Words("ask.person", {"who": names}) if names else Words("ask.nobody")


def alert_leads(scene: Scene, who: Speaker, *lines: Words) -> Outcome:
    """Tell every lead except the speaker."""
    return Outcome(
        replies=tuple(Reply(p.id, "alert", lines) for p in scene.kitchen.with_role("lead") if p.id != who.person.id)
    )


def _plate(fryer: Fryer) -> Words:
    return Words(
        "service.plate",
        {
            "fryer": fryer_words(fryer),
            "power": Words(f"power.{fryer.power}"),
            "model": fryer.model or Words("service.unknown"),
            "serial": fryer.serial or Words("service.unknown"),
        },
    )


def _named(scene: Scene, slots: Slots) -> str | None:
    if slots.fryer is not None:
        return slots.fryer
    return scene.kitchen.fryers[0].id if len(scene.kitchen.fryers) == 1 and slots.unknown_fryer is None else None
