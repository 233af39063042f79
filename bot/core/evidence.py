"""What the log shows that bears on a fault: facts by name, each with the words that say why it counts.

A fact holds only where the log can know it. A duty that a kitchen neither schedules nor logs says nothing, and
neither does a log that is younger than the stretch a fact is about.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.core import records as r, schedule
from bot.core.calendar import ONE_DAY, Calendar, calendar
from bot.core.forecast import WATCH_PERCENT
from bot.core.kitchen import Kitchen
from bot.core.messages import Words
from bot.core.pieces import done_at, slot_key
from bot.core.scene import rules_of
from bot.core.schedule import Occurrence, Slot
from bot.core.state import State
from intents.types import Part

PAD_DAYS = 2
"""Open kitchen days without a pad change; common practice: the pad is changed at least daily."""

SEAL_DAYS = 90
"""Common practice: seals are replaced every 90 days."""

OIL_DAYS = 10
"""Common practice: oil this old is suspect in most kitchens; a test decides."""

WEEK = timedelta(days=7)

USUAL_F = (325.0, 375.0)
"""°F (163 to 191 °C): the oil's usual heat in US kitchens, by an insurer's guide for underwriters of kitchens."""

HEATS_UP = timedelta(minutes=45)
"""Before and after opening the oil may be cold still; common practice."""

TRIPS = 3
"""High-limit trips in a week that point at a cause beyond chance; common practice: carbon on the vat's walls."""


def evidence(state: State, kitchen: Kitchen, fryer: str, now: datetime) -> dict[str, Words]:
    """The facts that hold for one fryer now, each with its reason in words."""
    rules = state.current_rules() or rules_of(kitchen)
    look = _Look(state, kitchen, rules, calendar(rules), fryer, now)
    found = {fact: reason(look) for fact, reason in _REASONS.items()}
    return {fact: why for fact, why in found.items() if why is not None}


@dataclass(frozen=True)
class _Look:
    """One fryer's log, as it reads now."""

    state: State
    kitchen: Kitchen
    rules: r.Rules
    days: Calendar
    fryer: str
    now: datetime

    @property
    def today(self) -> date:
        return self.days.day_of(self.now)

    def slot(self, duty: str) -> Slot | None:
        """The duty as scheduled for this fryer, or for the whole kitchen."""
        return schedule.slot(self.rules, duty, self.fryer) or schedule.slot(self.rules, duty, None)

    def done(self, duty: str) -> datetime | None:
        """When the duty was last logged as done on this fryer, or for the whole kitchen."""
        entries = (self.state.last_confirmation(duty, fryer) for fryer in (self.fryer, None))
        return max((done_at(entry.change) for entry in entries if entry is not None), default=None)

    def done_on(self, duty: str) -> date | None:
        """The kitchen day on which it was last done, by the log or by the kitchen file."""
        at = self.done(duty)
        if at is not None:
            return self.days.day_of(at)
        slot = self.slot(duty)
        return slot.duty.last_done if slot is not None else None

    def overdue(self, duty: str) -> Occurrence | None:
        """The open occurrence of the duty that is past its due time."""
        slot = self.slot(duty)
        found = schedule.open_occurrence(self.state, slot, self.now) if slot is not None else None
        return found if found is not None and found.due_at <= self.now else None


def _gone(look: _Look, fact: str, duty: str, enough: Callable[[date], bool]) -> Words | None:
    """The duty was not done for long enough; where it never was, as far back as a log that should hold it goes."""
    last = look.done_on(duty)
    if last is not None:
        return Words(f"why.{fact}", {"on": last}) if enough(last) else None
    began = look.state.log_began()
    if look.slot(duty) is None or began is None or not enough(look.days.day_of(began)):
        return None
    return Words(f"why.never.{fact}", {"on": look.days.day_of(began)})


def _pad_old(look: _Look) -> Words | None:
    def enough(last: date) -> bool:
        later = (last + timedelta(days=n) for n in range(1, (look.today - last).days + 1))
        return sum(map(look.days.is_open, later)) >= PAD_DAYS

    return _gone(look, "pad_not_changed_2_days", "pad_change", enough)


def _older(fact: str, duty: str, days: int) -> Callable[[_Look], Words | None]:
    return lambda look: _gone(look, fact, duty, lambda last: look.today - last > timedelta(days=days))


def _reservoir_due(look: _Look) -> Words | None:
    found = look.overdue("reservoir_swap")
    return Words("why.reservoir_due_or_empty", {"on": found.day}) if found is not None else None


def _boil_out_overdue(look: _Look) -> Words | None:
    found = look.overdue("boil_out")
    if found is None or look.now <= found.late_at:
        return None
    return Words("why.boil_out_overdue", {"on": found.day})


def _trips(look: _Look) -> Words | None:
    resets = sum(
        isinstance(entry.change, r.ResetTried)
        and entry.change.fryer == look.fryer
        and entry.change.part == "high_limit"
        and entry.at > look.now - WEEK
        for entry in look.state.log
    )
    wait = look.state.waits.get(slot_key("high_limit", look.fryer))
    open_now = wait is not None and wait.reset is None and wait.ended != "cancelled"
    # A trip whose wait still runs, or isn't followed by its reset yet, is one more.
    trips = resets + (wait is not None and open_now and wait.started_at > look.now - WEEK)
    return Words("why.three_high_limit_trips_this_week", {"n": trips}) if trips >= TRIPS else None


def _tripped_today(fact: str, part: Part) -> Callable[[_Look], Words | None]:
    def reason(look: _Look) -> Words | None:
        wait = look.state.waits.get(slot_key(part, look.fryer))
        if wait is None or wait.started_at < look.days.day_start(look.today):
            return None
        return Words(f"why.{fact}", {"at": wait.started_at})

    return reason


def _filter_missed(look: _Look) -> Words | None:
    day = look.today - ONE_DAY
    while not look.days.is_open(day):
        day -= ONE_DAY
        if look.today - day > WEEK:
            return None
    slot = look.slot("closing_filter")
    found = schedule.daily_occurrence(look.state, slot, day) if slot is not None else None
    began = look.state.log_began()
    if slot is None or found is None or began is None or found.due_at < began or schedule.excused(look.state, found):
        return None
    start, end = look.days.day_start(day), look.days.day_end(day)
    done = any(start <= done_at(e.change) < end for e in look.state.confirmations(slot.duty.id, slot.fryer))
    return None if done else Words("why.closing_filter_missed_yesterday", {"on": day})


def _last_reading(look: _Look, what: str) -> tuple[datetime, r.ReadingTaken] | None:
    """The latest reading of that kind on this fryer that stands, if it is of the oil that is in it now."""
    changed = look.done("oil_change")
    for entry in reversed(look.state.log):
        change = entry.change
        if isinstance(change, r.ReadingTaken) and change.what == what and change.fryer == look.fryer:
            if entry.undone:
                continue
            return (entry.at, change) if changed is None or entry.at > changed else None
    return None


def _over_limit(look: _Look) -> Words | None:
    limit, last = look.kitchen.polar_limit_percent, _last_reading(look, "oil_test")
    if limit is None or last is None or last[1].value < limit:
        return None
    return Words("why.oil_reading_over_limit", {"value": last[1].value, "at": last[0]})


def _worn(look: _Look) -> Words | None:
    limit, last = look.kitchen.polar_limit_percent, _last_reading(look, "oil_test")
    if last is None or last[1].value < WATCH_PERCENT or (limit is not None and last[1].value >= limit):
        return None
    return Words("why.oil_reading_worn", {"value": last[1].value, "at": last[0]})


def _temperature(fact: str, odd: Callable[[float], bool]) -> Callable[[_Look], Words | None]:
    """The last temperature that was logged today is odd, taken in °F."""

    def reason(look: _Look) -> Words | None:
        last = _last_reading(look, "temperature")
        if last is None or look.days.day_of(last[0]) != look.today:
            return None
        at, read = last
        fahrenheit = read.value if read.unit == "F" else read.value * 9 / 5 + 32
        params = {"value": read.value, "unit": Words(f"unit.{read.unit}"), "at": at}
        return Words(f"why.{fact}", params) if odd(fahrenheit) else None

    return reason


def _just_opened(look: _Look) -> Words | None:
    if not look.days.is_open(look.today):
        return None
    opens = look.days.opening(look.today)
    return Words("why.just_opened", {"at": opens}) if opens - HEATS_UP < look.now < opens + HEATS_UP else None


def _back_lately(look: _Look) -> Words | None:
    back = [o.to for o in look.state.outages if o.fryer == look.fryer and o.to is not None]
    latest = max(back, default=None)
    if latest is None or latest <= look.now - WEEK:
        return None
    return Words("why.recent_service", {"on": look.days.day_of(latest)})


def _today(fact: str, *duties: str) -> Callable[[_Look], Words | None]:
    def reason(look: _Look) -> Words | None:
        at = max((done for duty in duties if (done := look.done(duty)) is not None), default=None)
        return Words(f"why.{fact}", {"at": at}) if at is not None and look.days.day_of(at) == look.today else None

    return reason


_REASONS: dict[str, Callable[[_Look], Words | None]] = {
    "pad_not_changed_2_days": _pad_old,
    "seals_past_90_days": _older("seals_past_90_days", "seal_replacement", SEAL_DAYS),
    "oil_old": _older("oil_old", "oil_change", OIL_DAYS),
    "reservoir_due_or_empty": _reservoir_due,
    "boil_out_overdue": _boil_out_overdue,
    "three_high_limit_trips_this_week": _trips,
    "high_limit_tripped_today": _tripped_today("high_limit_tripped_today", "high_limit"),
    "pump_tripped_today": _tripped_today("pump_tripped_today", "pump"),
    "closing_filter_missed_yesterday": _filter_missed,
    "oil_reading_over_limit": _over_limit,
    "oil_reading_worn": _worn,
    "temperature_high_today": _temperature("temperature_high_today", lambda read: read > USUAL_F[1]),
    "temperature_low_today": _temperature("temperature_low_today", lambda read: read < USUAL_F[0]),
    "just_opened": _just_opened,
    "recent_service": _back_lately,
    "just_filtered_today": _today("just_filtered_today", "midshift_filter", "closing_filter"),
    "just_changed_pad_today": _today("just_changed_pad_today", "pad_change"),
    "just_changed_seals_today": _today("just_changed_seals_today", "seal_replacement"),
    "just_swapped_reservoir_today": _today("just_swapped_reservoir_today", "reservoir_swap"),
    "just_boiled_out_today": _today("just_boiled_out_today", "boil_out"),
    "just_changed_oil_today": _today("just_changed_oil_today", "oil_change"),
}

FACTS = frozenset(_REASONS)
"""Every fact that a fault's causes may name."""

NEVER = frozenset({"pad_not_changed_2_days", "seals_past_90_days", "oil_old"})
"""The facts that hold too where a scheduled duty was never logged; each has a second reason for that."""
