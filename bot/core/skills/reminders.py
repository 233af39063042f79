"""The messages that call duties to mind, kept true by editing them.

In each chat a duty has at most one reminder that can be answered: a newer one takes the buttons of the older. What
was sent, and for which duties, is in the state (``Reminded``); how each line reads follows from how things stand.
"""

from __future__ import annotations

from collections.abc import Collection, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from bot.core import records as r, schedule
from bot.core.actions import action
from bot.core.messages import CREW, Button, Outcome, Reply, Words
from bot.core.pieces import number_of, slot_key
from bot.core.scene import Scene, duty_words, fryer_words, name_words, slot_words
from bot.core.schedule import Occurrence, Slot
from bot.core.times import stamp

SlotName = tuple[str, str | None]
"""A duty and its fryer."""


@dataclass(frozen=True, slots=True)
class Now:
    """What has just happened and is not in the state yet."""

    done: Mapping[Slot, r.Confirmed] = field(default_factory=dict)
    undone: Collection[int] = ()
    """Numbers of entries that were taken back."""
    called: Collection[tuple[str, SlotName]] = ()
    """The chats in which duties are being called to mind anew."""


NOTHING_NEW = Now()
MISSED = "reminder.missed_line"


def told_key(occurrence_key: str, at: datetime) -> str:
    """The name under which it is remembered that an occurrence was called to mind at ``at``."""
    return f"due|{occurrence_key}|{stamp(at)}"


def due(occurrences: Iterable[Occurrence], at: datetime) -> r.Reminded:
    """The reminder of one duty on all its fryers, in the crew chat."""
    called = tuple(r.Called(o.slot.duty.id, o.slot.fryer, o.due_at, o.day) for o in occurrences)
    return r.Reminded(CREW, f"due|{called[0].duty}|{stamp(at)}", at, called)


def put_off(scene: Scene, chat: str, until: datetime, slots: Iterable[SlotName]) -> r.Reminded:
    """The reminder of duties that were put off until now, in the chat where that was asked."""
    called = []
    for duty, fryer in slots:
        slot = schedule.slot(scene.rules, duty, fryer)
        occurrence = schedule.open_occurrence(scene.state, slot, scene.now) if slot is not None else None
        due_at, day = (occurrence.due_at, occurrence.day) if occurrence is not None else (until, scene.today)
        called.append(r.Called(duty, fryer, due_at, day))
    called.sort(key=lambda c: c.due_at)
    return r.Reminded(chat, f"later|{stamp(until)}", until, tuple(called), put_off=True)


def send(scene: Scene, reminders: Sequence[r.Reminded]) -> Outcome:
    """Send what one moment calls to mind, and take the buttons of older reminders of the same duties in those chats.

    All of it at once, since an older reminder of several duties is edited once, with all that is new about it.
    """
    anew = {(sent.chat, _name(c)) for sent in reminders for c in sent.called}
    older = _edits(scene, {name for _, name in anew}, Now(called=anew))
    return Outcome(tuple(reminders), (*older, *(_render(scene, sent, NOTHING_NEW, edit=False) for sent in reminders)))


def after_confirming(scene: Scene, done: Mapping[Slot, r.Confirmed]) -> tuple[Reply, ...]:
    """The reminders that these confirmations make out of date, as they should read now."""
    names = {(slot.duty.id, slot.fryer) for slot in done}
    return _edits(scene, names, Now(done=done))


def after_undoing(scene: Scene, undone: Iterable[r.Confirmed]) -> tuple[Reply, ...]:
    """The reminders of duties whose confirmations were taken back, as they should read now."""
    gone = list(undone)
    return _edits(scene, {(c.duty, c.fryer) for c in gone}, Now(undone={c.entry for c in gone}))


def after_days(scene: Scene) -> tuple[Reply, ...]:
    """At the end of a kitchen day: the reminders of daily duties that nobody answered lose their buttons."""
    ended = scene.state.day_ended
    missed = [
        sent
        for sent in scene.state.reminded.values()
        if any((ended is None or c.day > ended) and _is_missed(_line(scene, sent, c, NOTHING_NEW)) for c in sent.called)
    ]
    return tuple(_render(scene, sent, NOTHING_NEW, edit=True) for sent in missed)


def _edits(scene: Scene, names: Container[SlotName], now: Now) -> tuple[Reply, ...]:
    """Every reminder that reads otherwise because of what has just happened to these duties."""
    found = []
    for sent in scene.state.reminded.values():
        # Of all that was called to mind in the last days, hardly anything is about them.
        concerned = [c for c in sent.called if (c.duty, c.fryer) in names]
        if concerned and any(_reads_otherwise(scene, sent, c, now) for c in concerned):
            found.append(_render(scene, sent, now, edit=True, about=names))
    return tuple(found)


def _reads_otherwise(scene: Scene, sent: r.Reminded, c: r.Called, now: Now) -> bool:
    return _may_change(scene, c, now) and _line(scene, sent, c, NOTHING_NEW) != _line(scene, sent, c, now)


def _may_change(scene: Scene, c: r.Called, now: Now) -> bool:
    """False where it is plain at a glance that a line stays: of a day that is over, unless the news is of that day."""
    if now.undone or c.day >= scene.today or not _is_daily(scene, c):
        return True
    return any((slot.duty.id, slot.fryer) == _name(c) and _settles(scene, c, done) for slot, done in now.done.items())


def _render(scene: Scene, sent: r.Reminded, now: Now, edit: bool, about: Container[SlotName] = ()) -> Reply:
    """A reminder as it should read; what has just happened concerns the duties ``about``."""
    lines = {c: _line(scene, sent, c, now if _name(c) in about else NOTHING_NEW) for c in sent.called}
    open_ones = [c for c in sent.called if lines[c] is None]
    head: tuple[Words, ...] = ()
    if len(sent.called) == 1:
        opened = {c: _open_words(sent, c) for c in open_ones}
    else:
        several = Words("reminder.several", {"duty": duty_words(sent.called[0].duty)})
        head = (Words("reminder.snoozed_several") if sent.put_off else several,)
        opened = {c: Words("reminder.open_line", {"what": _named(sent, c)}) for c in open_ones}
    text = (*head, *(line or opened[c] for c, line in lines.items()))
    return Reply(sent.chat, "reminder", text, _buttons(sent, open_ones), key=sent.key, edit=edit)


def _named(sent: r.Reminded, c: r.Called) -> Words:
    """How a duty is called in the lines of its reminder: by its fryer alone where the head names the duty."""
    if len(sent.called) == 1 or sent.put_off or c.fryer is None:
        return slot_words(*_name(c))
    return fryer_words(c.fryer)


def _open_words(sent: r.Reminded, c: r.Called) -> Words:
    """The line of a duty that waits for an answer, where it is named in full."""
    what = slot_words(*_name(c))
    if sent.put_off:
        return Words("reminder.snoozed", {"what": what})
    if c.due_at < sent.at:
        return Words("reminder.still", {"what": what, "since": c.due_at})
    return Words("reminder.due", {"what": what})


def _buttons(sent: r.Reminded, open_ones: list[r.Called]) -> tuple[Button, ...]:
    if not open_ones:
        return ()
    single = len(sent.called) == 1
    several_duties = len({c.duty for c in sent.called}) > 1
    done = []
    for c in open_ones:
        label = Words("button.done_on", {"fryer": c.fryer or ""})
        if single:
            label = Words("button.done")
        elif several_duties or c.fryer is None:
            label = Words("button.done_what", {"what": slot_words(*_name(c))})
        done.append(Button(label, action("done", c.duty, c.fryer)))
    first = open_ones[0]
    if several_duties:
        return tuple(done)
    later = action("later", first.duty, first.fryer if single else None)
    return (*done, Button(Words("button.later"), later))


def _line(scene: Scene, sent: r.Reminded, c: r.Called, now: Now) -> Words | None:
    """The line of a duty that needs no answer in this message any more, or None while it does."""
    what = _named(sent, c)
    confirmed = _confirmation(scene, c, now)
    if confirmed is not None:
        by = name_words(scene, confirmed.by)
        return Words("reminder.done_line", {"what": what, "by": by, "at": confirmed.done_at})
    if c.fryer is not None and scene.state.out_of_service(c.fryer, c.due_at):
        return Words("reminder.excused_line", {"what": what})
    if _is_daily(scene, c) and c.day < scene.today:
        return Words(MISSED, {"what": what})
    if (sent.chat, _name(c)) in now.called or _has_newer(scene, sent, c):
        return Words("reminder.newer_line", {"what": what})
    return None


def _confirmation(scene: Scene, c: r.Called, now: Now) -> r.Confirmed | None:
    """The confirmation that settles what was called to mind, or None; of several the first, which closed it."""
    begins = scene.days.day_start(c.day)
    found = next((done for slot, done in now.done.items() if (slot.duty.id, slot.fryer) == _name(c)), None)
    if found is not None and not _settles(scene, c, found):
        found = None
    for entry in reversed(scene.state.confirmed.get(slot_key(c.duty, c.fryer), ())):
        if entry.at < begins:
            break  # it would not have been called to mind
        standing = not entry.undone and number_of(entry) not in now.undone
        if standing and isinstance(entry.change, r.Confirmed) and _settles(scene, c, entry.change):
            found = entry.change
    return found


def _settles(scene: Scene, c: r.Called, confirmed: r.Confirmed) -> bool:
    if _is_daily(scene, c):
        return scene.days.day_of(confirmed.done_at) == c.day
    return confirmed.done_at >= c.due_at or confirmed.due_at == c.due_at


def _has_newer(scene: Scene, sent: r.Reminded, c: r.Called) -> bool:
    """Whether a reminder of the same duty was sent to the same chat after this one."""
    return any(
        other.at > sent.at
        and other.chat == sent.chat
        and any(d.duty == c.duty and d.fryer == c.fryer for d in other.called)
        for other in scene.state.reminded.values()
    )


def _is_missed(line: Words | None) -> bool:
    return line is not None and line.id == MISSED


def _is_daily(scene: Scene, c: r.Called) -> bool:
    duty = scene.days.duties.get(c.duty)
    return duty is not None and duty.every.unit == "day"


def _name(c: r.Called) -> SlotName:
    return c.duty, c.fryer
