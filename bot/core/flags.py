"""Patterns in the log that a manager may want to ask about. A flag states a rule and its figures; it accuses nobody.

All three rules are common practice in auditing hand-kept logs; each has an innocent explanation. What counts is when
an entry was written down, not the time it states.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from bot.core.calendar import INSTANT, ONE_DAY, Calendar
from bot.core.pieces import Logged, done_at
from bot.core.records import Confirmed
from bot.core.state import State

BURST = 5
"""So many confirmations of one person within ``BURST_WITHIN``, in more than one message."""
BURST_WITHIN = timedelta(minutes=1)

LAST_MINUTES = timedelta(minutes=10)
"""Before the end of a kitchen day."""
LAST_SHARE = 0.8
"""Of a person's confirmations of a day, from which on that day counts."""
LAST_DAYS = 3
LAST_WITHIN = 7
"""So many of that many kitchen days, the judged one included."""

FILTERED = "closing_filter"
"""The duty after which a fryer cooks no more that evening."""

Kind = Literal["many_at_once", "last_minutes", "drops_after_filter"]


@dataclass(frozen=True, slots=True)
class Flag:
    """One pattern. ``count`` is what the rule counted: confirmations, days, or drops; ``of`` what it was among.

    ``since`` is when the pattern began: the first confirmation of the minute, or the closing filter.
    """

    flag: Kind
    by: str
    count: int
    of: int | None = None
    fryer: str | None = None
    since: datetime | None = None


def flags(state: State, days: Calendar, day: date, as_of: datetime) -> tuple[Flag, ...]:
    """The flags of one kitchen day as of an instant; ``state`` must hold the log of the six days before it too."""
    start, end = days.day_start(day), min(days.day_end(day), as_of + INSTANT)
    today = _by_person(_written(state, start, end))
    week = _by_person(_written(state, days.day_start(day - (LAST_WITHIN - 1) * ONE_DAY), end)) if today else {}
    return (
        *(flag for by, entries in today.items() if (flag := _many_at_once(by, entries)) is not None),
        *(flag for by, entries in week.items() if by in today and (flag := _last_minutes(days, by, entries, day))),
        *_drops_after_filter(state, days, day, as_of),
    )


def _written(state: State, start: datetime, end: datetime) -> Iterator[Logged]:
    """The confirmations that stand and were written down from ``start`` on and before ``end``."""
    for entries in state.confirmed.values():
        for entry in entries[bisect_left(entries, start, key=lambda e: e.at) :]:
            if entry.at >= end:
                break
            if not entry.undone:
                yield entry


def _by_person(entries: Iterable[Logged]) -> dict[str, list[Logged]]:
    found: dict[str, list[Logged]] = {}
    for entry in sorted(entries, key=lambda e: e.at):
        if isinstance(entry.change, Confirmed):
            found.setdefault(entry.change.by, []).append(entry)
    return found


def _many_at_once(by: str, entries: list[Logged]) -> Flag | None:
    """The fullest minute. What came in one message was written down at one instant, and is no burst by itself."""
    best: Flag | None = None
    first = 0
    for last, entry in enumerate(entries):
        while entry.at - entries[first].at > BURST_WITHIN:
            first += 1
        count = last - first + 1
        apart = entries[first].at != entry.at
        if count >= BURST and apart and (best is None or count > best.count):
            best = Flag("many_at_once", by, count, since=entries[first].at)
    return best


def _last_minutes(days: Calendar, by: str, entries: list[Logged], day: date) -> Flag | None:
    """Days on which nearly all was written down in the last minutes. What falls due only then is not counted."""
    total: dict[date, int] = {}
    late: dict[date, int] = {}
    for entry in entries:
        on = days.day_of(entry.at)
        from_then_on = days.day_end(on) - LAST_MINUTES
        due_at = getattr(entry.change, "due_at", None)
        if due_at is not None and due_at >= from_then_on:
            continue
        total[on] = total.get(on, 0) + 1
        late[on] = late.get(on, 0) + (entry.at >= from_then_on)
    count = sum(late[on] >= LAST_SHARE * total[on] for on in total)
    return Flag("last_minutes", by, count, of=LAST_WITHIN) if count >= LAST_DAYS else None


def _drops_after_filter(state: State, days: Calendar, day: date, as_of: datetime) -> Iterator[Flag]:
    start, end = days.day_start(day), days.day_end(day)
    for fryer, counted in state.drops.items():
        filtered = [
            e
            for e in state.confirmations(FILTERED, fryer)
            if start <= done_at(e.change) < end and e.at <= as_of and isinstance(e.change, Confirmed)
        ]
        if not filtered:
            continue
        since = done_at(filtered[-1].change)
        after = [e for e in counted if since < e.at < end and e.at <= as_of and not e.undone]
        if after:
            count = sum(getattr(e.change, "amount", 0) for e in after)
            yield Flag("drops_after_filter", getattr(filtered[-1].change, "by", ""), count, fryer=fryer, since=since)
