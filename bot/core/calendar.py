"""The kitchen's own days, and wall times turned into instants.

The policy for clock changes is that of RFC 5545 section 3.3.5: a local time that does not exist is read with the
offset from before the gap, and one that comes twice is the first of the two. ``fold=0`` of ``zoneinfo`` gives
both. Lengths of time are added to instants (UTC), never to wall times.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

from bot.core.kitchen import WEEKDAYS
from bot.core.records import Rules

AFTER_CLOSING = timedelta(hours=2)
"""A kitchen day ends this long after its closing (contract of the kitchen file)."""

ONE_DAY = timedelta(days=1)
INSTANT = timedelta(microseconds=1)


class Calendar:
    """The days of one kitchen under one set of rules. Instants taken are aware; those given are UTC."""

    def __init__(self, rules: Rules) -> None:
        self.rules = rules
        self.zone = ZoneInfo(rules.timezone)
        self._closed_days = {WEEKDAYS.index(name) for name in rules.closed_days}
        self._closed_dates = frozenset(rules.closed_dates)
        self._day_ends: dict[date, datetime] = {}
        self._openings: dict[date, datetime] = {}
        self._times: dict[tuple[date, time], datetime] = {}
        self._latest: tuple[datetime, datetime, date] | None = None
        self._closes_next_day = rules.closes <= rules.opens
        self.duties = {duty.id: duty for duty in rules.duties}

    def instant(self, on: date, wall: time) -> datetime:
        """The instant of a wall time on a calendar date."""
        return datetime.combine(on, wall.replace(fold=0), self.zone).astimezone(UTC)

    def closing(self, day: date) -> datetime:
        """The closing of kitchen day ``day``; after midnight where the kitchen closes earlier than it opens."""
        return self.instant(day + ONE_DAY if self._closes_next_day else day, self.rules.closes)

    def opening(self, day: date) -> datetime:
        """The opening of kitchen day ``day``."""
        found = self._openings.get(day)
        if found is None:
            found = _kept(self._openings, day, self.instant(day, self.rules.opens))
        return found

    def day_end(self, day: date) -> datetime:
        """The first instant after kitchen day ``day``."""
        end = self._day_ends.get(day)
        if end is None:
            end = _kept(self._day_ends, day, self.closing(day) + AFTER_CLOSING)
        return end

    def day_start(self, day: date) -> datetime:
        """The first instant of kitchen day ``day``."""
        return self.day_end(day - ONE_DAY)

    def day_of(self, instant: datetime) -> date:
        """The kitchen day that ``instant`` lies in."""
        # Nearly always the day that was asked for before.
        if self._latest is not None and self._latest[0] <= instant < self._latest[1]:
            return self._latest[2]
        # A day may end past the second midnight after its date: opens and closes at 23:00.
        day = instant.astimezone(self.zone).date() - 2 * ONE_DAY
        while self.day_end(day) <= instant:
            day += ONE_DAY
        self._latest = (self.day_start(day), self.day_end(day), day)
        return day

    def at(self, day: date, wall: time) -> datetime:
        """The instant of a wall time within kitchen day ``day``, which may lie on a calendar day after it.

        Where a clock change at the very edge carries it out of the day, the day's nearest instant.
        """
        found = self._times.get((day, wall))
        if found is None:
            found = _kept(self._times, (day, wall), self._at(day, wall))
        return found

    def _at(self, day: date, wall: time) -> datetime:
        turn = datetime.combine(day, self.rules.closes) + AFTER_CLOSING
        ends = turn + ONE_DAY if self._closes_next_day else turn
        on = ends.date() if wall < ends.time() else ends.date() - ONE_DAY
        return max(self.day_start(day), min(self.instant(on, wall), self.day_end(day) - INSTANT))

    def is_open(self, day: date) -> bool:
        """Whether the kitchen opens on ``day``."""
        return day.weekday() not in self._closed_days and day not in self._closed_dates

    def next_open(self, day: date) -> date:
        """The first open day on or after ``day``; ``day`` itself where a whole year is closed."""
        for ahead in range(366):
            if self.is_open(day + timedelta(days=ahead)):
                return day + timedelta(days=ahead)
        return day


K = TypeVar("K")
MOST_TIMES = 2000


def _kept(known: dict[K, datetime], key: K, value: datetime) -> datetime:
    """Keep a time that was worked out once; a table that has grown too large is begun anew."""
    if len(known) >= MOST_TIMES:
        known.clear()
    known[key] = value
    return value


_made: dict[int, Calendar] = {}
MOST_KEPT = 4096


def calendar(rules: Rules) -> Calendar:
    """The calendar of these rules, made once for each object: to compare thousands of duties would cost more."""
    found = _made.get(id(rules))
    if found is None or found.rules is not rules:
        if len(_made) >= MOST_KEPT:
            _made.clear()
        found = _made[id(rules)] = Calendar(rules)
    return found
