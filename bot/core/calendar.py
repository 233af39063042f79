"""The kitchen's own days, and wall times turned into instants.

The policy for clock changes is that of RFC 5545 section 3.3.5: a local time that does not exist is read with the
offset from before the gap, and one that comes twice is the first of the two. ``fold=0`` of ``zoneinfo`` gives
both. Lengths of time are added to instants (UTC), never to wall times.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import TypeVar
from zoneinfo import ZoneInfo

from bot.core.kitchen import WEEKDAYS
from bot.core.records import Rules

AFTER_CLOSING = timedelta(hours=2)
"""A kitchen day ends this long after its closing (contract of the kitchen file)."""

ONE_DAY = timedelta(days=1)
INSTANT = timedelta(microseconds=1)


@dataclass(slots=True)
class _Known:
    """Times that were worked out once. ``ends`` are those of a row of kitchen days, the first of ordinal ``first``."""

    first: int = 0
    ends: list[datetime] = field(default_factory=list)
    openings: dict[date, datetime] = field(default_factory=dict)
    times: dict[tuple[date, time], datetime] = field(default_factory=dict)


@lru_cache(maxsize=256)
def _known(timezone: str, opens: time, closes: time) -> _Known:
    """Shared by all kitchens with the same hours, and by all rules that one kitchen ever had with them."""
    return _Known()


class Calendar:
    """The days of one kitchen under one set of rules. Instants taken are aware; those given are UTC."""

    def __init__(self, rules: Rules) -> None:
        self.rules = rules
        self.zone = ZoneInfo(rules.timezone)
        self._closed_days = frozenset(WEEKDAYS.index(name) for name in rules.closed_days)
        self._closed_dates = frozenset(rules.closed_dates)
        self._closes_next_day = rules.closes <= rules.opens
        self._known = _known(rules.timezone, rules.opens, rules.closes)
        self.duties = {duty.id: duty for duty in rules.duties}

    def instant(self, on: date, wall: time) -> datetime:
        """The instant of a wall time on a calendar date."""
        return datetime.combine(on, wall.replace(fold=0), self.zone).astimezone(UTC)

    def closing(self, day: date) -> datetime:
        """The closing of kitchen day ``day``; after midnight where the kitchen closes earlier than it opens."""
        return self.day_end(day) - AFTER_CLOSING

    def opening(self, day: date) -> datetime:
        """The opening of kitchen day ``day``."""
        found = self._known.openings.get(day)
        if found is None:
            found = _kept(self._known.openings, day, self.instant(day, self.rules.opens))
        return found

    def day_end(self, day: date) -> datetime:
        """The first instant after kitchen day ``day``."""
        known, place = self._known, day.toordinal() - self._known.first
        if not 0 <= place < len(known.ends):
            place = self._reach(day.toordinal())
        return known.ends[place]

    def day_start(self, day: date) -> datetime:
        """The first instant of kitchen day ``day``."""
        return self.day_end(day - ONE_DAY)

    def day_of(self, instant: datetime) -> date:
        """The kitchen day that ``instant`` lies in."""
        known = self._known
        if not known.ends or not known.ends[0] <= instant < known.ends[-1]:
            # A day may end past the second midnight after its date: opens and closes at 23:00.
            on = instant.astimezone(self.zone).toordinal()
            self._reach(on - 3)
            self._reach(on + 1)
        return date.fromordinal(known.first + bisect_right(known.ends, instant))

    def _reach(self, ordinal: int) -> int:
        """Know the ends of all days between those known and this one; its place among them.

        Kept without a gap, so that the day of an instant is found by halving: reports ask it of every record.
        """
        known = self._known
        if known.ends and not -MOST_TIMES < ordinal - known.first < len(known.ends) + MOST_TIMES:
            known.ends = []
        if not known.ends:
            known.first = ordinal
        before = range(ordinal, known.first)
        after = range(known.first + len(known.ends), ordinal + 1)
        known.ends = [*map(self._end, before), *known.ends, *map(self._end, after)]
        known.first = min(known.first, ordinal)
        return ordinal - known.first

    def _end(self, ordinal: int) -> datetime:
        day = date.fromordinal(ordinal + self._closes_next_day)
        return self.instant(day, self.rules.closes) + AFTER_CLOSING

    def at(self, day: date, wall: time) -> datetime:
        """The instant of a wall time within kitchen day ``day``, which may lie on a calendar day after it.

        Where a clock change at the very edge carries it out of the day, the day's nearest instant.
        """
        found = self._known.times.get((day, wall))
        if found is None:
            found = _kept(self._known.times, (day, wall), self._at(day, wall))
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
        found = day
        for _ in range(366):
            if self.is_open(found):
                return found
            found += ONE_DAY
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
