"""Taking entries back: one's own within the kitchen day, anybody's by a lead; nothing is ever deleted."""

from __future__ import annotations

from bot.core import records as r, schedule
from bot.core.messages import Outcome, Reply, Words
from bot.core.pieces import Logged, number_of
from bot.core.scene import Scene, Speaker, fryer_words, slot_words
from bot.core.schedule import Occurrence
from bot.core.skills import reminders, supplies
from bot.core.skills.duties import late_lines
from intents.types import Slots


def undo(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Take back the person's last entry of this kitchen day (on that fryer, where one is named)."""
    start = scene.days.day_start(scene.today)
    mine = [
        entry
        for entry in scene.state.all_entries()
        if getattr(entry.change, "entry", None) is not None
        and getattr(entry.change, "by", None) == who.person.id
        and not entry.undone
        and entry.at >= start
        and (slots.fryer is None or getattr(entry.change, "fryer", None) == slots.fryer)
        and (slots.duty is None or getattr(entry.change, "duty", slots.duty) == slots.duty)
    ]
    if not mine:
        return scene.answer(who, Words("undo.nothing"))
    latest = max(mine, key=lambda entry: (entry.at, getattr(entry.change, "entry", 0)))
    number: int = latest.change.entry  # type: ignore[union-attr]
    return undo_entries(scene, who, number, number)


def undo_entries(scene: Scene, who: Speaker, first: int, last: int) -> Outcome:
    """Take back a run of entries, as a button carries them.

    One's own, within the kitchen day in which they were written; a lead's or manager's word takes back anyone's.
    """
    start = scene.days.day_start(scene.today)
    found = [e for e in (scene.state.entry(n) for n in range(first, last + 1)) if e is not None]
    may_all = who.person.role in ("lead", "manager")
    standing = [e for e in found if not e.undone]
    if not standing:
        return scene.answer(who, Words("undo.nothing"))
    if not may_all and any(getattr(e.change, "by", None) != who.person.id for e in standing):
        return scene.answer(who, Words("undo.not_yours"))
    if not may_all and any(e.at < start for e in standing):
        return scene.answer(who, Words("undo.too_old"))
    undone = tuple(r.Undone(e.change.entry, who.person.id) for e in standing)  # type: ignore[union-attr]
    lines = tuple(Words("undo.done", {"what": entry_words(e.change)}) for e in standing)
    heirs = _rejudged(scene, standing)
    reopened = [
        o
        for e in standing
        if (o := _reopened(scene, e)) is not None and o.due_at not in {heir.due_at for heir in heirs}
    ]
    told = r.Told(tuple(key for o in reopened for key in _keys_passed(scene, o)))
    changes = (*undone, *heirs, *((told,) if told.keys else ()))
    outcome = scene.answer(who, *lines, changes=changes)
    again = reminders.after_undoing(scene, [e.change for e in standing if isinstance(e.change, r.Confirmed)])
    return outcome + Outcome(replies=again) + _late_again(scene, reopened)


def _reopened(scene: Scene, entry: Logged) -> Occurrence | None:
    """The occurrence, due by now, that is open again once this confirmation is taken back."""
    change = entry.change
    if not isinstance(change, r.Confirmed) or change.due_at is None or change.due_at > scene.now:
        return None
    slot = schedule.slot(scene.rules, change.duty, change.fryer)
    return Occurrence(slot, scene.days.day_of(change.due_at), change.due_at) if slot is not None else None


def _keys_passed(scene: Scene, occurrence: Occurrence) -> list[str]:
    """What would have been said of it by now need not be said again as if it had been missed."""
    keys = [reminders.told_key(occurrence.key, occurrence.due_at)]
    if occurrence.late_at <= scene.now:
        keys.append(schedule.lead_key(occurrence.key))
    if occurrence.escalates_at <= scene.now:
        keys.append(schedule.manager_key(occurrence.key))
    return keys


def _rejudged(scene: Scene, undone: list[Logged]) -> list[r.Rejudged]:
    """An extra confirmation takes the place of the one that is taken back."""
    changes: list[r.Rejudged] = []
    numbers = {number_of(entry) for entry in undone}
    for entry in undone:
        change = entry.change
        if not isinstance(change, r.Confirmed) or change.due_at is None:
            continue
        day = scene.days.day_of(change.done_at)
        heir = next(
            (
                e.change
                for e in sorted(scene.state.confirmations(change.duty, change.fryer), key=number_of)
                if isinstance(e.change, r.Confirmed)
                and e.change.due_at is None
                and number_of(e) not in numbers
                and scene.days.day_of(e.change.done_at) == day
            ),
            None,
        )
        slot = schedule.slot(scene.rules, change.duty, change.fryer)
        if heir is not None and slot is not None:
            status = schedule.status_of(Occurrence(slot, day, change.due_at), heir.done_at)
            changes.append(r.Rejudged(heir.entry, change.due_at, status))
    return changes


def _late_again(scene: Scene, reopened: list[Occurrence]) -> Outcome:
    """The leads hear at once of what is late again today."""
    late = [o for o in reopened if o.late_at <= scene.now and o.day == scene.today]
    lines = late_lines("escalation.late", late)
    if not lines:
        return Outcome()
    return Outcome(replies=tuple(Reply(p.id, "escalation", lines) for p in scene.kitchen.with_role("lead")))


def entry_words(change: r.Change) -> Words:
    """An entry of the log, named in a few words."""
    match change:
        case r.Confirmed():
            return slot_words(change.duty, change.fryer)
        case r.ReadingTaken():
            return Words(
                f"entry.{change.what}",
                {"fryer": fryer_words(change.fryer), "value": change.value, "unit": Words(f"unit.{change.unit}")},
            )
        case r.DropsCounted():
            return Words("entry.drops", {"fryer": fryer_words(change.fryer), "n": change.amount})
        case r.StockCounted():
            return Words("entry.stock", {"item": supplies.item_words(change.item), "n": change.count})
        case r.OutageBegan():
            return Words("entry.down", {"fryer": fryer_words(change.fryer)})
        case r.OutageEnded():
            return Words("entry.up", {"fryer": fryer_words(change.fryer)})
        case _:
            return Words("entry.note")
