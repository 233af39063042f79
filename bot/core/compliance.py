"""What of a kitchen day's duties was done in time: the figures that the summary stands on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from bot.core import schedule
from bot.core.calendar import calendar
from bot.core.flags import Flag, flags
from bot.core.pieces import Logged, done_at, number_of
from bot.core.records import Rules
from bot.core.schedule import Occurrence, Slot
from bot.core.state import State
from bot.core.statistics import wilson_interval
from bot.core.touched import ALL_SLOTS, PAST_DAYS

Verdict = Literal["on_time", "late", "missed", "excused", "open"]


@dataclass(frozen=True, slots=True)
class Judged:
    """One occurrence and what became of it; ``done`` is the confirmation that closed it."""

    occurrence: Occurrence
    verdict: Verdict
    done: Logged | None = None


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts of one group of occurrences. ``due`` is the sum of all the others."""

    on_time: int = 0
    late: int = 0
    missed: int = 0
    excused: int = 0
    open: int = 0

    @property
    def due(self) -> int:
        """All occurrences of the group."""
        return self.on_time + self.late + self.missed + self.excused + self.open

    @property
    def judged(self) -> int:
        """Those that the rate is taken over: on time, late and missed."""
        return self.on_time + self.late + self.missed

    @property
    def rate(self) -> float | None:
        """Share on time of those judged, 0 to 1; None where nothing was judged."""
        return self.on_time / self.judged if self.judged else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """The 95 % Wilson interval of the rate, or None."""
        return wilson_interval(self.on_time, self.judged) if self.judged else None


@dataclass(frozen=True, slots=True)
class DayReport:
    """A kitchen day, judged as of some instant. ``complete`` where the day was over by then."""

    kitchen: str
    day: date
    complete: bool
    closed: bool
    judged: tuple[Judged, ...] = ()
    flags: tuple[Flag, ...] = ()

    @property
    def total(self) -> Tally:
        """Counts of the whole day."""
        return tally(self.judged)

    def by_duty(self) -> dict[str, Tally]:
        """Counts by duty, in the kitchen's order."""
        ids = dict.fromkeys(j.occurrence.slot.duty.id for j in self.judged)
        return {i: tally(tuple(j for j in self.judged if j.occurrence.slot.duty.id == i)) for i in ids}

    def by_fryer(self) -> dict[str, Tally]:
        """Counts by fryer; duties of the whole kitchen are left out."""
        ids = dict.fromkeys(j.occurrence.slot.fryer for j in self.judged)
        return {i: tally(tuple(j for j in self.judged if j.occurrence.slot.fryer == i)) for i in ids if i is not None}


def tally(judged: tuple[Judged, ...]) -> Tally:
    """Count the verdicts."""
    count = dict.fromkeys(("on_time", "late", "missed", "excused", "open"), 0)
    for one in judged:
        count[one.verdict] += 1
    return Tally(**count)


def judge_day(state: State, day: date, as_of: datetime, flagged: bool = True) -> DayReport | None:
    """Judge one kitchen day as of an instant; None where the log began after it.

    ``state`` must hold the log of that day. What isn't due yet as of then is not counted at all. Without ``flagged``
    its flags are left out, for those who only count.
    """
    rules = schedule.rules_on(state, day)
    if rules is None:
        return None
    days = calendar(rules)
    start, end = days.day_start(day), days.day_end(day)
    judged = [
        one
        for slot in schedule.slots_on(state, day)
        if (one := _judge(state, rules, slot, day, (start, end), as_of)) is not None
    ]
    return DayReport(
        rules.name,
        day,
        as_of >= end,
        not days.is_open(day),
        tuple(judged if as_of >= start else ()),
        flags(state, days, day, as_of) if flagged else (),
    )


def count_day(state: State, day: date, as_of: datetime, memo: dict[Any, Any] | None) -> DayReport | None:
    """As ``judge_day`` without its flags; a day that is over comes from ``memo`` until the past changes."""
    if memo is None:
        return judge_day(state, day, as_of, flagged=False)
    ground = (state.touched.get(ALL_SLOTS), state.touched.get(PAST_DAYS))
    known = memo.get("days")
    if known is None or known[0] != ground:
        known = memo["days"] = (ground, {})
    over: dict[date, DayReport] = known[1]
    if day in over:
        return over[day]
    report = judge_day(state, day, as_of, flagged=False)
    if report is not None and report.complete:
        over[day] = report
    return report


def _judge(
    state: State, rules: Rules, slot: Slot, day: date, span: tuple[datetime, datetime], as_of: datetime
) -> Judged | None:
    if slot.duty.every.unit == "day":
        return _judge_daily(state, slot, day, span, as_of)
    return _judge_standing(state, rules, slot, day, span, as_of)


def _judge_daily(
    state: State, slot: Slot, day: date, span: tuple[datetime, datetime], as_of: datetime
) -> Judged | None:
    occurrence = schedule.daily_occurrence(state, slot, day)
    if occurrence is None:
        return None
    closing = min(_done_within(state, slot, span, as_of), key=number_of, default=None)
    if closing is not None:
        return Judged(occurrence, _closed(occurrence, closing), closing)
    if occurrence.due_at > as_of:
        return None
    if schedule.excused(state, occurrence):
        return Judged(occurrence, "excused")
    return Judged(occurrence, "missed" if as_of >= span[1] else "open")


def _judge_standing(
    state: State, rules: Rules, slot: Slot, day: date, span: tuple[datetime, datetime], as_of: datetime
) -> Judged | None:
    """A duty that stays open until it is done: late counts once, on the day it is done, and each day before that, open
    or closed, on which it is overdue lists it as open. A closed day has no occurrences of its own.
    """
    for entry in sorted(_done_within(state, slot, span, as_of), key=number_of):
        closed = schedule.closes(state, slot, rules, done_at(entry.change), number_of(entry))
        if closed is not None:
            return Judged(closed, _closed(closed, entry), entry)
    start, end = span
    known = min(as_of, end)
    is_open = calendar(rules).is_open(day)
    last = state.last_confirmation(slot.duty.id, slot.fryer, before=start)
    due = schedule.nominal(state, slot, rules, last, known)
    if is_open and due is not None and due.day == day and due.due_at <= known and schedule.excused(state, due):
        return Judged(due, "excused")
    due = schedule.pending(state, slot, rules, last, known)
    overdue = due is not None and due.due_at <= known and (is_open or due.day < day)
    if due is not None and overdue and due.due_at < end and not _done_within(state, slot, span, as_of):
        return Judged(due, "open")
    return None


def _done_within(state: State, slot: Slot, span: tuple[datetime, datetime], as_of: datetime) -> list[Logged]:
    return [entry for entry in state.done_between(slot.duty.id, slot.fryer, *span) if entry.at <= as_of]


def _closed(occurrence: Occurrence, entry: Logged) -> Verdict:
    return "on_time" if done_at(entry.change) <= occurrence.late_at else "late"
