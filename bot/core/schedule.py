"""When duties fall due, and what a confirmation is worth.

The rules are those that the kitchen file promises (README, "How duties are judged"). A *slot* is one duty on one
fryer, or one duty of the whole kitchen; an *occurrence* is one time that a slot falls due.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from msgspec import Struct

from bot.core.calendar import ONE_DAY, Calendar, calendar
from bot.core.kitchen import WEEKDAYS, Duty
from bot.core.pieces import Logged, RulesSince, done_at, number_of
from bot.core.records import Rules, Status
from bot.core.state import State

LAST_DAY = 31
"""As the day of a monthly duty: the last day of any month."""


class Slot(Struct, frozen=True):
    """One duty on one fryer; ``fryer`` is None for a duty of the whole kitchen."""

    duty: Duty
    fryer: str | None


class Occurrence(Struct, frozen=True):
    """One time that a slot falls due: on kitchen day ``day``, at the instant ``due_at``."""

    slot: Slot
    day: date
    due_at: datetime

    @property
    def late_at(self) -> datetime:
        """After this instant it is late, and the leads hear of it."""
        return self.due_at + self.slot.duty.grace

    @property
    def escalates_at(self) -> datetime:
        """From this instant the managers hear of it."""
        return self.due_at + self.slot.duty.escalate

    @property
    def key(self) -> str:
        """A name for it that no other occurrence bears."""
        at = self.due_at.isoformat(timespec="minutes")
        return f"{self.slot.duty.id}|{self.slot.fryer or ''}|{at[:4]}{at[5:7]}{at[8:13]}{at[14:16]}Z"


def lead_key(occurrence_key: str) -> str:
    """The name under which it is remembered that the leads heard of an occurrence."""
    return f"lead|{occurrence_key}"


def manager_key(occurrence_key: str) -> str:
    """The name under which it is remembered that the managers heard of an occurrence."""
    return f"manager|{occurrence_key}"


def slots(rules: Rules) -> Iterator[Slot]:
    """Every slot of the kitchen, in the file's order."""
    for duty in rules.duties:
        for fryer in duty.fryers if duty.fryers is not None else (None,):
            yield Slot(duty, fryer)


def slot(rules: Rules, duty_id: str, fryer: str | None) -> Slot | None:
    """The slot of that duty and fryer, or None where the kitchen hasn't scheduled it."""
    return next((s for s in slots(rules) if s.duty.id == duty_id and s.fryer == fryer), None)


def rules_on(state: State, day: date) -> Rules | None:
    """The rules by which kitchen day ``day`` is judged, the last in force on it; None where the log began later."""
    held = _rules_within(state, day)
    return held[-1].rules if held else None


def slots_on(state: State, day: date) -> list[Slot]:
    """Every slot that the kitchen had on some part of a kitchen day, each as its latest rules have it."""
    found = {(s.duty.id, s.fryer): s for held in _rules_within(state, day) for s in slots(held.rules)}
    return list(found.values())


def daily_occurrence(state: State, slot: Slot, day: date) -> Occurrence | None:
    """The occurrence of a daily duty on a kitchen day; None where the kitchen is closed or has no such duty then.

    A change of the duty's time takes effect from the next occurrence: the first due time that lay in its own
    rules' stretch counts. Where a change left none (from 21:30 to 20:00, made at 21:00), the old time stands.
    """
    within = _rules_within(state, day)
    replaced: Occurrence | None = None
    for n, held in enumerate(within):
        found = _daily_under(held.rules, slot, day)
        if found is None:
            replaced = None
            continue
        if n > 0 and held.since > found.due_at:
            continue
        if n + 1 == len(within) or found.due_at < within[n + 1].since:
            return found
        replaced = found
    return replaced


def _daily_under(rules: Rules, slot: Slot, day: date) -> Occurrence | None:
    days = calendar(rules)
    duty = days.duties.get(slot.duty.id)
    if duty is None or duty.at is None or duty.every.unit != "day" or not days.is_open(day):
        return None
    if slot.fryer is not None and slot.fryer not in (duty.fryers or ()):
        return None
    return Occurrence(Slot(duty, slot.fryer), day, days.at(day, duty.at))


def _rules_within(state: State, day: date) -> list[RulesSince]:
    """The rules that held during a kitchen day, one after another; the first may be older than the day."""
    if state.rules and state.rules[-1].since <= calendar(state.rules[-1].rules).day_start(day):
        return state.rules[-1:]
    within: list[RulesSince] = []
    for held in state.rules:
        days = calendar(held.rules)
        if held.since >= days.day_end(day):
            break
        if held.since <= days.day_start(day):
            within.clear()
        within.append(held)
    return within


def pending(state: State, slot: Slot, rules: Rules, last: Logged | None, now: datetime) -> Occurrence | None:
    """The next occurrence of a duty that isn't daily, given its last confirmation, as known at ``now``.

    One that an outage swallowed moves to the next open day that finds the fryer in service. None for a duty
    counted in drops that has not reached its number. It may lie in the past: then the duty is overdue.
    """
    found = nominal(state, slot, rules, last, now)
    days = calendar(rules)
    while found is not None and found.due_at <= now and excused(state, found):
        day = days.next_open(found.day + ONE_DAY)
        found = Occurrence(slot, day, _at(days, slot.duty, day))
    return found


def nominal(state: State, slot: Slot, rules: Rules, last: Logged | None, now: datetime) -> Occurrence | None:
    """The occurrence that follows the last confirmation, whether or not the fryer is in service then."""
    days = calendar(rules)
    duty = slot.duty
    if duty.every.unit == "drops":
        reached = _drops_reached(state, slot, rules, last, now)
        return Occurrence(slot, days.day_of(reached), reached) if reached is not None else None
    base = _base_day(duty, days, last)
    if base is None:
        # Nothing is known of it before it was the kitchen's duty.
        began = next((h.since for h in state.rules if duty.id in calendar(h.rules).duties), now)
        day = days.day_of(began)
    else:
        day = nominal_day(duty, base)
    day = days.next_open(day)
    return Occurrence(slot, day, _at(days, duty, day))


def nominal_day(duty: Duty, base: date) -> date:
    """The day after ``base`` on which a week, month or N-days duty falls due, before closed days are looked at."""
    every = duty.every
    match every.unit:
        case "week":
            wanted = WEEKDAYS.index(every.on) if isinstance(every.on, str) else 0
            ahead = (wanted - base.weekday() - 1) % 7 + 1
            return base + timedelta(days=ahead)
        case "month":
            wanted = every.on if isinstance(every.on, int) else 1
            found = _month_day(base.year, base.month, wanted)
            if found <= base:
                year, month = (base.year + 1, 1) if base.month == 12 else (base.year, base.month + 1)
                found = _month_day(year, month, wanted)
            return found
        case _:
            return base + timedelta(days=every.count)


def excused(state: State, occurrence: Occurrence) -> bool:
    """Whether the fryer was out of service at the due time."""
    return occurrence.slot.fryer is not None and state.out_of_service(occurrence.slot.fryer, occurrence.due_at)


def open_occurrence(state: State, slot: Slot, now: datetime) -> Occurrence | None:
    """The occurrence that a confirmation given now would close: past due or still to come today.

    None where the duty is done, excused, not due today, or the kitchen is closed.
    """
    rules = state.current_rules()
    if rules is None:
        return None
    days = calendar(rules)
    today = days.day_of(now)
    if slot.duty.every.unit == "day":
        found = daily_occurrence(state, slot, today)
        if found is None or excused(state, found):
            return None
        start, end = days.day_start(today), days.day_end(today)
        return None if state.done_between(slot.duty.id, slot.fryer, start, end) else found
    last = state.last_confirmation(slot.duty.id, slot.fryer)
    found = pending(state, slot, rules, last, now)
    return found if found is not None and found.day <= today else None


def closes(state: State, slot: Slot, rules: Rules, when: datetime, entry: int) -> Occurrence | None:
    """The occurrence that the confirmation ``entry``, with that ``done_at``, closes by what stands beside it.

    None for a second confirmation (one written down later, whatever time it states), and for one that no
    occurrence is open for.
    """
    days = calendar(rules)
    day = days.day_of(when)
    unit = slot.duty.every.unit
    if unit in ("day", "days"):
        that_day = state.done_between(slot.duty.id, slot.fryer, days.day_start(day), days.day_end(day))
        # For N days, doing it early is doing it, for it counts from the last time; twice in one day is not.
        if any(number_of(e) < entry for e in that_day):
            return None
    if unit == "day":
        return daily_occurrence(state, slot, day)
    last = state.last_confirmation(slot.duty.id, slot.fryer, before=when, entry=entry)
    if unit in ("week", "month"):
        base = _base_day(slot.duty, days, last)
        if base is not None and day < nominal_day(slot.duty, base):
            return None
    found = pending(state, slot, rules, last, when)
    earlier = (e for e in state.confirmations(slot.duty.id, slot.fryer) if number_of(e) < entry)
    if found is not None and any(getattr(e.change, "due_at", None) == found.due_at for e in earlier):
        return None
    return found


def status_of(occurrence: Occurrence, when: datetime) -> Status:
    """On time up to due plus grace, early counts; late after that."""
    return "on_time" if when <= occurrence.late_at else "late"


def _month_day(year: int, month: int, wanted: int) -> date:
    return date(year, month, min(wanted, monthrange(year, month)[1]))


def _at(days: Calendar, duty: Duty, day: date) -> datetime:
    return days.at(day, duty.at) if duty.at is not None else days.opening(day)


def _drops_reached(state: State, slot: Slot, rules: Rules, last: Logged | None, now: datetime) -> datetime | None:
    """When the drops counted since the last confirmation reached the duty's number, or None."""
    fryers = (slot.fryer,) if slot.fryer is not None else rules.fryers
    counted = 0
    for entry in state.drops_after(fryers, done_at(last.change) if last is not None else None):
        if entry.at > now:
            break
        counted += getattr(entry.change, "amount", 0)
        if counted >= slot.duty.every.count:
            return entry.at
    return None


def _base_day(duty: Duty, days: Calendar, last: Logged | None) -> date | None:
    return days.day_of(done_at(last.change)) if last is not None else duty.last_done


def repeats(state: State, occurrence: Occurrence, now: datetime) -> Iterator[datetime]:
    """When an overdue duty that isn't daily is called to mind again: once each later open day, up to ``now``
    and the one after it.
    """
    rules = state.current_rules()
    if rules is None or occurrence.slot.duty.every.unit == "day":
        return
    days = calendar(rules)
    day = days.next_open(occurrence.day + ONE_DAY)
    while True:
        at = _at(days, occurrence.slot.duty, day)
        yield at
        if at > now:
            return
        day = days.next_open(day + ONE_DAY)
