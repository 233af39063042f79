"""What is asked about duties: what is due, when one comes round again, when it was last done and by whom."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from bot.core import records as r, schedule
from bot.core.actions import action
from bot.core.coming import coming
from bot.core.messages import Button, Outcome, Words
from bot.core.pieces import done_at
from bot.core.scene import Scene, Speaker, duty_words, grouped, name_words, slot_words
from bot.core.skills import asking, duties
from intents.types import Slots

WEEK = 7
"""Days."""

LOOK_AHEAD = 120
"""Days; longer than the seals' 90, the longest round that is common practice."""


def due(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """What is overdue, and what falls due in the rest of the kitchen day."""
    wanted = [
        o
        for o in duties.open_now(scene)
        if (slots.fryer is None or o.slot.fryer in (slots.fryer, None))
        and (slots.duty is None or o.slot.duty.id == slots.duty)
    ]
    if not wanted and slots.duty is not None:
        return scene.answer(who, *_due_next(scene, slots.duty, slots.fryer))
    if not wanted:
        nothing = Words("due.closed") if not scene.days.is_open(scene.today) else Words("due.nothing")
        return scene.answer(who, nothing)
    overdue = [o for o in wanted if o.due_at <= scene.now]
    coming = [o for o in wanted if o.due_at > scene.now]
    lines: list[Words] = []
    if overdue:
        lines.append(Words("due.overdue"))
        lines += duties.late_lines("due.line", overdue)
    if coming:
        lines.append(Words("due.coming"))
        lines += duties.late_lines("due.line", coming)
    buttons = tuple(
        Button(
            Words("button.done_what", {"what": slot_words(o.slot.duty.id, o.slot.fryer)}),
            action("done", o.slot.duty.id, o.slot.fryer),
        )
        for o in overdue[: duties.MOST_BUTTONS]
    )
    return scene.answer(who, *lines, buttons=buttons)


def _due_next(scene: Scene, duty: str, fryer: str | None) -> list[Words]:
    """When a duty of which nothing is open comes round again, a line a time; unknown where drops decide."""
    ahead: dict[tuple[str, str | None], datetime] = {}
    for o in coming(scene, LOOK_AHEAD):
        # Today's turn is over, or it would be open.
        if o.day > scene.today and o.slot.duty.id == duty and fryer in (None, o.slot.fryer):
            ahead.setdefault((duty, o.slot.fryer), o.due_at)
    times = sorted(set(ahead.values()))
    if not times:
        return [Words("due.not_today", {"what": duty_words(duty)})]
    return [
        Words("due.next", {"what": grouped([name for name, at in ahead.items() if at == time]), "at": time})
        for time in times
    ]


def last_done(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """When a duty was last done, and by whom; for every fryer where none is named."""
    if slots.duty is None:
        return duties.ask_which_last(scene, who)
    if slots.unknown_fryer is not None:
        return asking.unknown_fryer(scene, who, slots.unknown_fryer)
    fryers: list[str | None] = [None]
    if duties.needs_fryer(scene, slots.duty):
        fryers = [slots.fryer] if slots.fryer is not None else [f.id for f in scene.kitchen.fryers]
    day = _day_named(scene, slots)
    lines = []
    for fryer in fryers:
        what = slot_words(slots.duty, fryer)
        if day is not None:
            then = _done_on(scene, slots.duty, fryer, day)
            lines += [Words("last.done", _done_words(scene, what, change)) for change in then]
            if then:
                continue
            lines.append(Words("last.not_on", {"what": what, "on": day}))
        last = scene.state.last_confirmation(slots.duty, fryer)
        scheduled = schedule.slot(scene.rules, slots.duty, fryer)
        if last is not None:
            lines.append(Words("last.done", _done_words(scene, what, last.change)))
        elif scheduled is not None and scheduled.duty.last_done is not None:
            lines.append(Words("last.before_log", {"what": what, "on": scheduled.duty.last_done}))
        else:
            lines.append(Words("last.never", {"what": what}))
    return scene.answer(who, *lines)


def _day_named(scene: Scene, slots: Slots) -> date | None:
    """The kitchen day that is asked about; a weekday is the last such day, today among them."""
    if slots.weekday is not None:
        return scene.today - timedelta(days=(scene.today.weekday() - slots.weekday) % WEEK)
    return scene.today - timedelta(days=slots.days_ago) if slots.days_ago is not None else None


def _done_on(scene: Scene, duty: str, fryer: str | None, day: date) -> list[r.Change]:
    """Every confirmation that stands of one kitchen day, oldest first."""
    found = scene.state.done_between(duty, fryer, scene.days.day_start(day), scene.days.day_end(day))
    return sorted((entry.change for entry in found), key=done_at)


def _done_words(scene: Scene, what: Words, change: r.Change) -> dict[str, Any]:
    return {"what": what, "at": done_at(change), "by": name_words(scene, getattr(change, "by", None))}
