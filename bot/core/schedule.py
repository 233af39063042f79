"""When duties fall due, and what a confirmation is worth.

The rules are those that the kitchen file promises (README, "How duties are judged"). A *slot* is one duty on one
fryer, or one duty of the whole kitchen; an *occurrence* is one time that a slot falls due.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.core.calendar import ONE_DAY, Calendar, calendar
from bot.core.kitchen import WEEKDAYS, Duty
from bot.core.records import Rules, Status
from bot.core.state import Logged, State, done_at, slot_key

LAST_DAY = 31
"""As the day of a monthly duty: the last day of any month."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One duty on one fryer; ``fryer`` is None for a duty of the whole kitchen."""

    duty: Duty
    fryer: str | None


@dataclass(frozen=True, slots=True)
class Occurrence:
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
        return f"{self.slot.duty.id}|{self.slot.fryer or ''}|{self.due_at:%Y%m%dT%H%MZ}"

    @property
    def lead_key(self) -> str:
        """The name under which it is remembered that the leads heard of it."""
        return f"lead|{self.key}"

    @property
    def manager_key(self) -> str:
        """The name under which it is remembered that the managers heard of it."""
        return f"manager|{self.key}"


def slots(rules: Rules) -> Iterator[Slot]:
    """Every slot of the kitchen, in the file's order."""
    for duty in rules.duties:
        for fryer in duty.fryers if duty.fryers is not None else (None,):
            yield Slot(duty, fryer)


def slot(rules: Rules, duty_id: str, fryer: str | None) -> Slot | None:
    """The slot of that duty and fryer, or None where the kitchen hasn't scheduled it."""
    return next((s for s in slots(rules) if s.duty.id == duty_id and s.fryer == fryer), None)


def rules_on(state: State, day: date) -> Rules | None:
    """The rules by which kitchen day ``day`` is judged, or None where the log began later.

    They are those in force when the day began; on the first day of the log, the first ones.
    """
    best: Rules | None = None
    for held in state.rules:
        days = calendar(held.rules)
        if held.since <= days.day_start(day) or (best is None and held.since < days.day_end(day)):
            best = held.rules
    return best


def daily_occurrence(state: State, slot: Slot, day: date) -> Occurrence | None:
    """The occurrence of a daily duty on a kitchen day; None where the kitchen is closed or has no such duty then.

    A change of the duty's time takes effect from the next occurrence: of the rules that held on that day, the
    first under which the due time lies in their own stretch counts.
    """
    fallback: Occurrence | None = None
    for n, held in enumerate(state.rules):
        days = calendar(held.rules)
        until = state.rules[n + 1].since if n + 1 < len(state.rules) else None
        if held.since >= days.day_end(day) or (until is not None and until <= days.day_start(day)):
            continue
        duty = next((d for d in held.rules.duties if d.id == slot.duty.id), None)
        if duty is None or duty.at is None or duty.every.unit != "day" or not days.is_open(day):
            continue
        if slot.fryer is not None and slot.fryer not in (duty.fryers or ()):
            continue
        found = Occurrence(Slot(duty, slot.fryer), day, days.at(day, duty.at))
        if held.since > found.due_at and n > 0:
            continue
        if until is None or found.due_at < until:
            return found
        fallback = fallback or found
    return fallback


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
        reached = [at for at in state.drops_due.get(slot_key(duty.id, slot.fryer), ()) if at <= now]
        if not reached or (last is not None and reached[-1] <= max(last.at, done_at(last.change))):
            return None
        return Occurrence(slot, days.day_of(reached[-1]), reached[-1])
    base = _base_day(duty, days, last)
    if base is None:
        began = state.log_began()
        day = days.day_of(began) if began is not None else days.day_of(now)
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
        done = any(start <= done_at(entry.change) < end for entry in state.confirmations(slot.duty.id, slot.fryer))
        return None if done else found
    last = state.last_confirmation(slot.duty.id, slot.fryer)
    found = pending(state, slot, rules, last, now)
    return found if found is not None and found.day <= today else None


def closes(state: State, slot: Slot, rules: Rules, when: datetime, entry: int) -> Occurrence | None:
    """The occurrence that the confirmation ``entry``, with that ``done_at``, closes by what stands before it.

    None for a second confirmation, and for one that no occurrence is open for.
    """
    days = calendar(rules)
    day = days.day_of(when)
    last = state.last_confirmation(slot.duty.id, slot.fryer, before=when, entry=entry)
    done_today = last is not None and days.day_of(done_at(last.change)) == day
    unit = slot.duty.every.unit
    if unit == "day":
        return None if done_today else daily_occurrence(state, slot, day)
    if unit == "days" and done_today:
        # Counted from the last time, so doing it early is doing it; twice in one day is not.
        return None
    if unit in ("week", "month"):
        base = _base_day(slot.duty, days, last)
        if base is not None and day < nominal_day(slot.duty, base):
            return None
    return pending(state, slot, rules, last, when)


def status_of(occurrence: Occurrence, when: datetime) -> Status:
    """On time up to due plus grace, early counts; late after that."""
    return "on_time" if when <= occurrence.late_at else "late"


def _month_day(year: int, month: int, wanted: int) -> date:
    return date(year, month, min(wanted, monthrange(year, month)[1]))


def _at(days: Calendar, duty: Duty, day: date) -> datetime:
    return days.at(day, duty.at) if duty.at is not None else days.opening(day)


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
