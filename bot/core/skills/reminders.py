"""The message that calls a duty to mind: one for all fryers that fall due together, kept true by editing it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from bot.core import schedule
from bot.core.actions import action
from bot.core.messages import CREW, Button, Reply, Words
from bot.core.records import Confirmed
from bot.core.scene import Scene, duty_words, fryer_words, name_words, slot_words
from bot.core.schedule import Occurrence, Slot
from bot.core.state import done_at
from bot.core.times import stamp

DoneNow = Mapping[Slot, Confirmed]


def group_key(occurrence: Occurrence, at: datetime) -> str:
    """The name, within the crew chat, of the reminder that was due at ``at``."""
    return f"due|{occurrence.slot.duty.id}|{stamp(at)}"


def told_key(occurrence: Occurrence, at: datetime) -> str:
    """The name under which it is remembered that this slot was called to mind at ``at``."""
    return f"due|{occurrence.key}|{stamp(at)}"


def reminder(scene: Scene, occurrences: Iterable[Occurrence], at: datetime, done_now: DoneNow, edit: bool) -> Reply:
    """The reminder of one duty for all its fryers, as things stand with ``done_now`` taken in."""
    group = list(occurrences)
    first = group[0]
    duty = first.slot.duty.id
    standing = {o.slot: _standing(scene, o, done_now, whole=len(group) == 1) for o in group}
    still_open = [o.slot for o in group if standing[o.slot] is None]
    lines: tuple[Words, ...]
    if len(group) == 1:
        state = standing[first.slot]
        what = slot_words(duty, first.slot.fryer)
        overdue = first.due_at < at
        lines = (
            state
            if state is not None
            else Words("reminder.still", {"what": what, "since": first.due_at})
            if overdue
            else Words("reminder.due", {"what": what}),
        )
        buttons = _buttons(still_open, single=True)
    else:
        lines = (
            Words("reminder.several", {"duty": duty_words(duty)}),
            *(
                state
                if (state := standing[o.slot]) is not None
                else Words("reminder.open_line", {"fryer": fryer_words(o.slot.fryer or "")})
                for o in group
            ),
        )
        buttons = _buttons(still_open, single=False)
    return Reply(CREW, "reminder", lines, buttons, key=group_key(first, at), edit=edit)


def _standing(scene: Scene, occurrence: Occurrence, done_now: DoneNow, whole: bool) -> Words | None:
    """The line of a slot that is settled, or None while it is open; ``whole`` names the duty in it too."""
    slot = occurrence.slot
    what = slot_words(slot.duty.id, slot.fryer) if whole or slot.fryer is None else fryer_words(slot.fryer)
    confirmed = done_now.get(slot)
    if confirmed is None:
        last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
        if last is not None and isinstance(last.change, Confirmed) and _settles(scene, occurrence, last.change):
            confirmed = last.change
    if confirmed is not None:
        return Words(
            "reminder.done_line",
            {"what": what, "by": name_words(scene, confirmed.by), "at": confirmed.done_at},
        )
    if schedule.excused(scene.state, occurrence):
        return Words("reminder.excused_line", {"what": what})
    return None


def _settles(scene: Scene, occurrence: Occurrence, confirmed: Confirmed) -> bool:
    if occurrence.slot.duty.every.unit == "day":
        return scene.days.day_of(confirmed.done_at) == occurrence.day
    return confirmed.done_at >= occurrence.due_at or confirmed.due_at == occurrence.due_at


def _buttons(still_open: list[Slot], single: bool) -> tuple[Button, ...]:
    if not still_open:
        return ()
    done = tuple(
        Button(
            Words("button.done") if single else Words("button.done_on", {"fryer": slot.fryer or ""}),
            action("done", slot.duty.id, slot.fryer),
        )
        for slot in still_open
    )
    duty = still_open[0].duty.id
    later = action("later", duty, still_open[0].fryer if single else None)
    return (*done, Button(Words("button.later"), later))


def edits_after(scene: Scene, done_now: DoneNow) -> tuple[Reply, ...]:
    """The reminders in the crew chat that these confirmations make out of date, as they should read now."""
    edits: dict[str, Reply] = {}
    for slot in done_now:
        occurrence = _reminded(scene, slot)
        if occurrence is None:
            continue
        at = latest_told(scene, occurrence)
        if at is None:
            continue
        group = [
            other
            for s in schedule.slots(scene.rules)
            if s.duty.id == slot.duty.id
            and (other := _reminded(scene, s)) is not None
            and latest_told(scene, other) == at
        ]
        if group:
            edits[group_key(occurrence, at)] = reminder(scene, group, at, done_now, edit=True)
    return tuple(edits.values())


def _reminded(scene: Scene, slot: Slot) -> Occurrence | None:
    """The occurrence of a slot that the crew was last reminded of, done or not."""
    if slot.duty.every.unit == "day":
        return schedule.daily_occurrence(scene.state, slot, scene.today)
    rules = scene.rules
    last = scene.state.last_confirmation(slot.duty.id, slot.fryer)
    found = schedule.pending(scene.state, slot, rules, last, scene.now)
    if found is not None and latest_told(scene, found) is not None:
        return found
    if last is not None:
        # Just done: what it closed is the one that was called to mind.
        number = getattr(last.change, "entry", 0)
        return schedule.closes(scene.state, slot, rules, done_at(last.change), number)
    return found


def latest_told(scene: Scene, occurrence: Occurrence) -> datetime | None:
    """When the crew was last reminded of it, as a due time; None where it wasn't."""
    told = [
        at
        for at in (occurrence.due_at, *schedule.repeats(scene.state, occurrence, scene.now))
        if told_key(occurrence, at) in scene.state.told
    ]
    return told[-1] if told else None
