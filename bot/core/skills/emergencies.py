"""Fire, burns and gas: the fixed short instructions at once, then everybody who must know. Nothing outranks it."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.core import records as r
from bot.core.actions import action
from bot.core.messages import CREW, Button, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker, fryer_words

HOLD = timedelta(minutes=15)
"""Nothing routine is sent this long after an emergency, and this long after it comes the follow-up."""

SAME_ALARM = timedelta(minutes=5)
"""A second cry within this time is the same alarm: it is answered, but nobody is alerted twice."""


def raise_alarm(
    scene: Scene, who: Speaker, what: r.IncidentKind, fryer: str | None, warning: Words | None = None
) -> Outcome:
    """Answer an emergency, alert the others, log it, and hold whatever is routine.

    ``warning`` is of what this person is about to do; it comes after the instructions.
    """
    lines = instructions(scene, what)
    button = Button(Words("button.false_alarm"), action("calm", what))
    changes = (
        r.IncidentReported(what, who.person.id, who.chat),
        r.RoutineHeld(scene.now + HOLD),
    )
    own = (*lines, warning) if warning is not None else lines
    told = scene.answer(who, *own, buttons=(button,), changes=changes)
    if _already_raised(scene, what):
        return told
    where = Words("alert.at_fryer", {"fryer": fryer_words(fryer)}) if fryer is not None else Words("alert.here")
    alert = Words(f"alert.{what}", {"by": who.person.name, "where": where})
    chats = [p.id for p in scene.kitchen.with_role("lead", "manager") if p.id != who.person.id]
    if who.chat != CREW:
        chats.append(CREW)
    return told + Outcome(replies=tuple(Reply(chat, "alert", (alert, *lines)) for chat in chats))


def calm(scene: Scene, who: Speaker, what: str) -> Outcome:
    """A false alarm: say so to everybody who was alerted, and let the routine go on."""
    if not _already_raised(scene, what, within=timedelta(hours=1)):
        return scene.answer(who, Words("emergency.nothing_raised"))
    line = Words("alert.false", {"by": who.person.name, "what": Words(f"incident.{what}")})
    chats = [p.id for p in scene.kitchen.with_role("lead", "manager") if p.id != who.person.id]
    if who.chat != CREW:
        chats.append(CREW)
    told = scene.answer(who, Words("emergency.calmed"), changes=(r.RoutineHeld(scene.now),))
    return told + Outcome(replies=tuple(Reply(chat, "alert", (line,)) for chat in chats))


def instructions(scene: Scene, what: r.IncidentKind) -> tuple[Words, ...]:
    """The fixed lines of one emergency, the right thing first."""
    count = scene.library.emergencies[what].lines
    return tuple(Words(f"emergency.{what}/line.{n}") for n in range(1, count + 1))


def follow_ups(scene: Scene) -> list[tuple[datetime, str, r.IncidentReported]]:
    """When to come back to each recent emergency, by what key, and to which. One that was calmed is left alone."""
    found = []
    for entry in reversed(scene.state.log):
        if scene.now - entry.at > timedelta(days=1):
            break
        change = entry.change
        if isinstance(change, r.IncidentReported):
            held = scene.state.held_until
            if held is not None and entry.at <= held < entry.at + HOLD:
                continue
            found.append((entry.at + HOLD, f"after|{change.what}|{entry.at:%Y%m%dT%H%M%S}", change))
    return found


def follow_up(scene: Scene, incident: r.IncidentReported) -> Reply:
    """What to mind a quarter of an hour later."""
    person = scene.kitchen.person(incident.by)
    count = scene.library.emergencies[incident.what].after
    lines = tuple(Words(f"emergency.{incident.what}/after.{n}") for n in range(1, count + 1))
    language = scene.language_of(person) if person is not None else None
    return Reply(incident.chat, "alert", (Words("emergency.follow_up"), *lines), language=language)


def _already_raised(scene: Scene, what: str, within: timedelta = SAME_ALARM) -> bool:
    return any(
        isinstance(entry.change, r.IncidentReported) and entry.change.what == what and scene.now - entry.at <= within
        for entry in scene.state.log
    )
