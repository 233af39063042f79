"""Time as oil feels it: in open days of the kitchen, for a vat that is switched off does not wear its oil.

An open day is one from opening to closing, so half a day is half of the open hours. What happens outside them
counts as having happened at the nearest opening or closing.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import lru_cache

from bot.core.calendar import ONE_DAY, Calendar

LONGEST = 3660
"""Kitchen days that are looked through, ten years; beyond it nothing of a kitchen is known."""


def shares(days: Calendar, since: datetime, until: datetime) -> Iterator[tuple[date, float]]:
    """The kitchen days between two instants that are open in part at least, each with its share, 0 to 1."""
    day, last = days.day_of(since), days.day_of(until)
    for _ in range(LONGEST):
        if day > last:
            return
        if days.is_open(day):
            opens, closes = days.opening(day), days.closing(day)
            inside = min(until, closes) - max(since, opens)
            if inside > timedelta(0):
                yield day, inside / (closes - opens)
        day += ONE_DAY


@lru_cache(maxsize=8192)
def elapsed(days: Calendar, since: datetime, until: datetime) -> float:
    """Open days between two instants; 0 where the second is not later."""
    return sum(share for _, share in shares(days, since, until))


def after(days: Calendar, since: datetime, amount: float) -> datetime | None:
    """The instant by which ``amount`` open days have passed since; None where ten years do not bring it."""
    left = max(0.0, amount)
    day = days.day_of(since)
    for _ in range(LONGEST):
        if days.is_open(day):
            opens, closes = max(since, days.opening(day)), days.closing(day)
            whole = closes - days.opening(day)
            share = max(timedelta(0), closes - opens) / whole
            if left <= share:
                return opens + left * whole
            left -= share
        day += ONE_DAY
    return None
