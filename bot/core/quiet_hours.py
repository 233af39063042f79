"""When nothing routine is said: from two hours after closing to one hour before the next opening.

People sleep then. What falls due in those hours waits; emergencies, warnings and the end of a wait that somebody
started do not.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.core.calendar import Calendar

BEFORE_OPENING = timedelta(hours=1)
"""The first of the crew is there by then (common practice). The other end is that of the kitchen day itself."""


def kept(days: Calendar, at: datetime) -> datetime:
    """The first instant, from ``at`` on, at which something routine may be said."""
    day = days.day_of(at)
    if not days.is_open(day):
        return days.opening(days.next_open(day)) - BEFORE_OPENING
    return max(at, days.opening(day) - BEFORE_OPENING)
