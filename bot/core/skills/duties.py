"""Duties in the crew's own words: done, not done, put off."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.core import quiet_hours, records as r, schedule, slot_items
from bot.core.actions import action
from bot.core.kitchen import Duty, Person
from bot.core.messages import Button, Outcome, Words
from bot.core.pieces import Logged, done_at
from bot.core.scene import Scene, Speaker, duty_words, grouped, name_words, slot_words
from bot.core.schedule import Occurrence, Slot
from bot.core.skills import asking, reminders, several
from bot.core.times import InTheFutureError, after_rush, done_time, next_hour, next_time, stamp
from intents.types import Slots, Understood

LATER = timedelta(minutes=20)
"""How long "later" is where nobody says; common practice: about one rush."""

ROUNDING = timedelta(minutes=2)
"""Closer to now than this, a reply doesn't spell out when it was done."""

MOST_BUTTONS = 8

PUNCTUATION = str.maketrans(dict.fromkeys(".,;:!?¡¿", " "))


@dataclass(frozen=True, slots=True)
class Deed:
    """One duty that somebody says they did."""

    duty: str
    fryer: str | None
    done_at: datetime


def done(scene: Scene, who: Speaker, understood: Understood) -> Outcome:
    """Confirm what a message says was done; ask for what it leaves open."""
    stated = (understood.slots, *understood.more)
    if any(slots.duty is None for slots in stated):
        return _which_of_these(scene, who, stated)
    deeds: list[Deed] = []
    questions = Outcome()
    for slots in stated:
        try:
            when = done_time(scene, slots)
        except InTheFutureError:
            return scene.answer(who, Words("done.future"))
        if slots.all_fryers and needs_fryer(scene, str(slots.duty)):
            deeds += [Deed(str(slots.duty), f, when) for f in _fryers_with(scene, str(slots.duty))]
            continue
        fryer = _fryer_of(scene, who, slots)
        if fryer is None and needs_fryer(scene, str(slots.duty)):
            if slots.unknown_fryer is not None:
                return asking.unknown_fryer(scene, who, slots.unknown_fryer)
            questions += asking.which_fryer(
                scene,
                who,
                lambda f, duty=slots.duty, when=when: action("did", duty, f, stamp(when)),  # type: ignore[misc]
                Words("ask.which_fryer_done", {"duty": duty_words(str(slots.duty))}),
                several.all_fryers(open_now(scene), str(slots.duty), when),
            )
            continue
        deeds.append(Deed(str(slots.duty), fryer, when))
    # What is clear is logged, and what is open is asked, each by itself: nothing that was said is lost.
    return confirm(scene, who, deeds) + questions if deeds else questions


def confirm(scene: Scene, who: Speaker, deeds: Sequence[Deed], only_if_open: bool = False) -> Outcome:
    """Log these deeds and say so. With ``only_if_open`` (a tap) one that is done already is not logged again."""
    lines: list[Words] = []
    changes: list[r.Change] = []
    done_now: dict[Slot, r.Confirmed] = {}
    for deed in dict.fromkeys(deeds):
        slot = schedule.slot(scene.rules, deed.duty, deed.fryer)
        occurrence = None
        if slot is not None and slot not in done_now:
            occurrence = schedule.closes(scene.state, slot, scene.rules, deed.done_at, scene.next_entry + len(changes))
        earlier = _earlier_today(scene, deed)
        if only_if_open and occurrence is None and earlier is not None:
            lines.append(_already(scene, deed, earlier, "done.already"))
            continue
        confirmed = r.Confirmed(
            entry=scene.next_entry + len(changes),
            duty=deed.duty,
            fryer=deed.fryer,
            done_at=deed.done_at,
            due_at=occurrence.due_at if occurrence is not None else None,
            status=schedule.status_of(occurrence, deed.done_at) if occurrence is not None else "unscheduled",
            by=who.person.id,
        )
        changes.append(confirmed)
        if slot is not None:
            done_now[slot] = confirmed
        if occurrence is None and earlier is not None:
            lines.append(_already(scene, deed, earlier, "done.again"))
        else:
            lines.append(_logged(scene, confirmed, occurrence))
    lines.extend(_left_line(scene, done_now))
    entries = [c.entry for c in changes if isinstance(c, r.Confirmed)]
    buttons = (Button(Words("button.undo"), action("undo", entries[0], entries[-1])),) if entries else ()
    outcome = scene.answer(who, *lines, buttons=buttons, changes=tuple(changes))
    return outcome + Outcome(replies=reminders.after_confirming(scene, done_now))


def own_duty_named(scene: Scene, text: str) -> Duty | None:
    """The duty of the kitchen's own invention that a message names, by its title or its words; None where none."""
    said = f" {_plain(text)} "
    for duty in scene.kitchen.duties:
        names = (*(title for _, title in duty.title), *duty.words)
        if any(f" {_plain(name)} " in said for name in names):
            return duty
    return None


def _plain(text: str) -> str:
    return " ".join(text.casefold().translate(PUNCTUATION).split())


def was_it_done(scene: Scene, who: Speaker, duty: Duty) -> Outcome:
    """A duty was named that only this kitchen knows: whether it was done is asked, and not read out of the words."""
    fryers: tuple[str | None, ...] = duty.fryers if duty.fryers is not None else (None,)
    buttons = tuple(
        Button(Words("button.done_what", {"what": slot_words(duty.id, f)}), action("done", duty.id, f)) for f in fryers
    )
    later = Button(Words("button.remind_later"), action("later", duty.id, None))
    return asking.ask(scene, who, (Words("done.own", {"what": duty_words(duty.id)}),), (*buttons, later))


def not_done(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Somebody says that a duty was not done: nothing is logged, and it stays due."""
    if slots.duty is None:
        return scene.answer(who, Words("done.nothing_logged"))
    what = slot_words(slots.duty, slots.fryer)
    buttons = (Button(Words("button.remind_later"), action("later", slots.duty, slots.fryer)),)
    return scene.answer(who, Words("done.not_yet", {"what": what}), buttons=buttons)


def no_duty(scene: Scene, who: Speaker) -> Outcome:
    """Work that no duty is kept of was done: nothing is logged, and it is said so."""
    return scene.answer(who, Words("done.not_a_duty"))


def snooze(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Put a reminder off: the duty that is named, or else whatever is overdue or falls due next."""
    if slots.after_rush and slots.minutes is None and slots.clock is None:
        return snooze_past_rush(scene, who, slots)
    return _snooze_until(scene, who, slots, next_time(scene, slots, LATER))


def snooze_past_rush(scene: Scene, who: Speaker, slots: Slots) -> Outcome:
    """Put a reminder off until the rush is over."""
    return _snooze_until(scene, who, slots, after_rush(scene))


def _snooze_until(scene: Scene, who: Speaker, slots: Slots, until: datetime) -> Outcome:
    if slots.duty is not None:
        named = [o for o in open_now(scene) if o.slot.duty.id == slots.duty and slots.fryer is None]
        targets = [(o.slot.duty.id, o.slot.fryer) for o in named] or [(slots.duty, slots.fryer)]
    else:
        targets = [
            (o.slot.duty.id, o.slot.fryer)
            for o in open_now(scene)
            if o.due_at <= scene.now and (slots.fryer is None or o.slot.fryer == slots.fryer)
        ] or [(o.slot.duty.id, o.slot.fryer) for o in open_now(scene)[:1]]
    if not targets:
        return scene.answer(who, Words("snooze.nothing"))
    return put_off(scene, who, targets, until)


def put_off(scene: Scene, who: Speaker, targets: Sequence[tuple[str, str | None]], until: datetime) -> Outcome:
    """Remind of these duties again at ``until``, in the chat where that was asked.

    Not while the kitchen sleeps; and on the hour, with the others, for a person who wants fewer reminders.
    """
    private = who.chat == who.person.id
    if private and wants_fewer(scene, who.person):
        until = next_hour(scene, until)
    until = quiet_hours.kept(scene.days, until)
    changes = tuple(r.Snoozed(duty, fryer, until, who.person.id, who.chat) for duty, fryer in targets)
    what = grouped(targets)
    buttons = []
    if until < after_rush(scene) and len({duty for duty, _ in targets}) == 1:
        duty, fryer = targets[0]
        past_rush = action("rush", duty, fryer if len(targets) == 1 else None)
        buttons.append(Button(Words("button.after_rush"), past_rush))
    if private and may_have_fewer(who.person) and not wants_fewer(scene, who.person):
        buttons.append(Button(Words("button.fewer"), action("fewer", "on")))
    line = Words("snooze.set", {"what": what, "at": until})
    return scene.answer(who, line, buttons=tuple(buttons), changes=changes)


def fewer(scene: Scene, who: Speaker, wanted: bool) -> Outcome:
    """Gather a person's own reminders from now on, or send each at its time again. A lead hears everything."""
    if not may_have_fewer(who.person):
        return scene.answer(who, Words("fewer.not_a_lead"))
    change = r.FewerWanted(who.person.id, wanted)
    if not wanted:
        return scene.answer(who, Words("fewer.off"), changes=(change,))
    again = Button(Words("button.each_at_its_time"), action("fewer", "off"))
    return scene.answer(who, Words("fewer.on"), buttons=(again,), changes=(change,))


def may_have_fewer(person: Person) -> bool:
    """Whether a person may miss a minute: not one who answers for the shift."""
    return person.role not in ("lead", "manager")


def wants_fewer(scene: Scene, person: Person) -> bool:
    """Whether a person's own reminders are gathered."""
    return may_have_fewer(person) and scene.state.fewer.get(person.id, False)


def ask_which_last(scene: Scene, who: Speaker) -> Outcome:
    """Ask of which duty somebody wants to know when it was last done."""
    duties = dict.fromkeys(s.duty.id for s in schedule.slots(scene.rules))
    buttons = tuple(Button(duty_words(d), action("last", d, None)) for d in list(duties)[:MOST_BUTTONS])
    return asking.ask(scene, who, (Words("last.which"),), buttons)


def _which_of_these(scene: Scene, who: Speaker, stated: Sequence[Slots]) -> Outcome:
    """Ask which duty is meant, with those of today as buttons; where fryers were named, with theirs.

    The buttons keep the time that was stated.
    """
    try:
        when = done_time(scene, stated[0])
    except InTheFutureError:
        return scene.answer(who, Words("done.future"))
    named = {slots.fryer for slots in stated if slots.fryer is not None}
    found = [o for o in open_now(scene) if o.slot.fryer in named] or open_now(scene)
    found = several.due_by(found, scene.now) + [o for o in found if o.due_at > scene.now]
    buttons = several.all_due(found, when, scene.now) if not named else ()
    for o in found[: MOST_BUTTONS - len(buttons)]:
        slot = (o.slot.duty.id, o.slot.fryer)
        act = action("done", *slot) if when == scene.now else action("did", *slot, stamp(when))
        buttons += (Button(slot_words(*slot), act),)
    return asking.ask(scene, who, (Words("done.which" if buttons else "done.which_none"),), buttons)


def all_due_done(scene: Scene, who: Speaker, when: datetime, asked_at: datetime) -> Outcome:
    """All that was due when it was asked, and still is open, was done at ``when``."""
    found = several.due_by(open_now(scene), asked_at)
    return _all_done(scene, who, found, when)


def done_on_all(scene: Scene, who: Speaker, duty: str, when: datetime) -> Outcome:
    """One duty was done at ``when`` on every fryer where it is still open."""
    return _all_done(scene, who, several.open_on(open_now(scene), duty), when)


def _all_done(scene: Scene, who: Speaker, found: Sequence[Occurrence], when: datetime) -> Outcome:
    if not found:
        return scene.answer(who, Words("done.all_before"))
    deeds = [Deed(o.slot.duty.id, o.slot.fryer, min(when, scene.now)) for o in found]
    return confirm(scene, who, deeds)


def open_now(scene: Scene) -> list[Occurrence]:
    return slot_items.open_occurrences(scene)


def needs_fryer(scene: Scene, duty: str) -> bool:
    """Whether a duty is done fryer by fryer here, not once for the whole kitchen."""
    scheduled = scene.kitchen.duty(duty)
    if scheduled is not None:
        return scheduled.fryers is not None
    kind = scene.library.duties.get(duty)
    return kind is None or kind.per_fryer


def _fryers_with(scene: Scene, duty: str) -> tuple[str, ...]:
    """The fryers on which a duty is done: those it is scheduled for, or all."""
    scheduled = scene.kitchen.duty(duty)
    if scheduled is not None and scheduled.fryers is not None:
        return scheduled.fryers
    return tuple(f.id for f in scene.kitchen.fryers)


def _fryer_of(scene: Scene, who: Speaker, slots: Slots) -> str | None:
    """The fryer meant: the one named, or the only one that it can be. A wrong guess shows in the reply."""
    duty = str(slots.duty)
    if not needs_fryer(scene, duty):
        return None
    if slots.fryer is not None or slots.unknown_fryer is not None:
        return slots.fryer
    if len(scene.kitchen.fryers) == 1:
        return scene.kitchen.fryers[0].id
    scheduled = scene.kitchen.duty(duty)
    if scheduled is not None and scheduled.fryers is not None and len(scheduled.fryers) == 1:
        return scheduled.fryers[0]
    open_on = [o.slot.fryer for o in open_now(scene) if o.slot.duty.id == duty]
    mentioned = asking.mentioned_fryer(scene, who)
    if mentioned is not None and (mentioned in open_on or not open_on):
        return mentioned
    return None


def _earlier_today(scene: Scene, deed: Deed) -> Logged | None:
    day = scene.days.day_of(deed.done_at)
    that_day = scene.state.done_between(deed.duty, deed.fryer, scene.days.day_start(day), scene.days.day_end(day))
    return min(that_day, key=lambda entry: done_at(entry.change), default=None)


def _already(scene: Scene, deed: Deed, earlier: Logged, text: str) -> Words:
    by = name_words(scene, getattr(earlier.change, "by", None))
    what = slot_words(deed.duty, deed.fryer)
    return Words(text, {"what": what, "by": by, "at": done_at(earlier.change)})


def _logged(scene: Scene, confirmed: r.Confirmed, occurrence: Occurrence | None) -> Words:
    what = slot_words(confirmed.duty, confirmed.fryer)
    text = f"done.{confirmed.status}"
    params = {"what": what, "at": confirmed.done_at}
    if occurrence is not None:
        params["due"] = occurrence.due_at
    if scene.now - confirmed.done_at > ROUNDING:
        return Words("done.backdated", {"logged": Words(text, params), "at": confirmed.done_at})
    return Words(text, params)


def _left_line(scene: Scene, done_now: dict[Slot, r.Confirmed]) -> list[Words]:
    left = [o for o in open_now(scene) if o.slot not in done_now and o.due_at <= scene.now]
    if not left:
        return []
    what = grouped((o.slot.duty.id, o.slot.fryer) for o in left)
    return [Words("done.left", {"what": what})]


def late_lines(text: str, occurrences: Iterable[Occurrence]) -> tuple[Words, ...]:
    """One line for each duty and due time, with all its fryers."""
    by_time: dict[tuple[str, datetime], list[tuple[str, str | None]]] = {}
    for o in occurrences:
        by_time.setdefault((o.slot.duty.id, o.due_at), []).append((o.slot.duty.id, o.slot.fryer))
    return tuple(Words(text, {"what": grouped(slots), "due": at}) for (_, at), slots in by_time.items())
