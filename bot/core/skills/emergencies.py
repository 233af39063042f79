"""Fire, burns and gas: the fixed short instructions at once, then everybody who must know. Nothing outranks it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from bot.core import records as r
from bot.core.actions import action
from bot.core.messages import CREW, Button, Outcome, Reply, Words
from bot.core.scene import Scene, Speaker, fryer_words, name_words

HOLD = timedelta(minutes=15)
"""Nothing routine is sent this long after an emergency, and this long after it comes the follow-up."""

SAME_ALARM = timedelta(minutes=5)
"""A second cry within this time is the same alarm: it is answered, but nobody is alerted twice."""

CALLED_OFF_WITHIN = timedelta(hours=1)
"""A "no emergency" that comes later than this is no news any more; common practice."""


def raise_alarm(
    scene: Scene, who: Speaker, what: r.IncidentKind, fryer: str | None, warning: Words | None = None
) -> Outcome:
    """Answer an emergency, alert the others, log it, and hold whatever is routine.

    ``warning`` is of what this person is about to do; it comes after the instructions.
    """
    lines = instructions(scene, what)
    # The button names the very cry that it answers, so that an old one never calls a later alarm off.
    button = Button(Words("button.false_alarm"), action("calm", what, stamp_of(scene.now)))
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
    if who.chat != CREW or scene.language_of(who.person) != scene.kitchen.language:
        # In their own group chat too: the one who cried is answered in another language than most can read.
        chats.append(CREW)
    return told + Outcome(replies=tuple(Reply(chat, "alert", (alert, *lines)) for chat in chats))


def calm(scene: Scene, who: Speaker, what: str, stamp: int) -> Outcome:
    """Call off the alarm that a button names: log it as false, and tell everybody who was alerted.

    It covers what that one person cried up to then, within ``SAME_ALARM``. Where somebody else's cry, or any other
    alarm, still stands, nobody is told that all is well and the routine stays held.
    """
    cries = [] if scene.now - CALLED_OFF_WITHIN > _instant(stamp) else list(standing(scene))
    cry = next((c for at, c in cries if c.what == what and stamp_of(at) == stamp), None)
    if cry is None:
        return scene.answer(who, Words("emergency.nothing_raised"))
    mine = [
        at
        for at, c in cries
        if (c.what, c.by) == (cry.what, cry.by) and stamp_of(at) <= stamp and _instant(stamp) - at <= SAME_ALARM
    ]
    others = [(at, c) for at, c in cries if at not in mine or c.by != cry.by or c.what != cry.what]
    held = max([scene.now, *(at + HOLD for at, _ in others)])
    changes = (r.AlarmCalledOff(cry.what, cry.by, tuple(mine), who.person.id), r.RoutineHeld(held))
    same = [(at, c) for at, c in others if c.what == what and scene.now - at <= CALLED_OFF_WITHIN]
    if same:
        at, other = same[-1]
        line = Words("emergency.other_stands", {"by": name_words(scene, other.by), "at": at})
        return scene.answer(who, line, changes=changes)
    line = Words("alert.false", {"by": who.person.name, "what": Words(f"incident.{what}")})
    chats = [p.id for p in scene.kitchen.with_role("lead", "manager") if p.id != who.person.id]
    if who.chat != CREW:
        chats.append(CREW)
    told = scene.answer(who, Words("emergency.calmed"), changes=changes)
    return told + Outcome(replies=tuple(Reply(chat, "alert", (line,)) for chat in chats))


def instructions(scene: Scene, what: r.IncidentKind) -> tuple[Words, ...]:
    """The fixed lines of one emergency, the right thing first."""
    count = scene.library.emergencies[what].lines
    return tuple(Words(f"emergency.{what}/line.{n}") for n in range(1, count + 1))


def _already_raised(scene: Scene, what: str) -> bool:
    return any(cry.what == what and scene.now - at <= SAME_ALARM for at, cry in standing(scene))


def standing(scene: Scene) -> Iterator[tuple[datetime, r.IncidentReported]]:
    """The last day's emergencies that were not called off, oldest first."""
    recent, since = [], scene.now - timedelta(days=1)
    for entry in reversed(scene.state.log):
        if entry.at < since:
            break
        if isinstance(entry.change, r.IncidentReported) and not scene.state.called_off_at(entry.at, entry.change):
            recent.append((entry.at, entry.change))
    return reversed(recent)


def stamp_of(at: datetime) -> int:
    """An instant as a button carries it, in milliseconds."""
    return int(at.timestamp() * 1000)


def _instant(stamp: int) -> datetime:
    return datetime.fromtimestamp(stamp / 1000, UTC)
