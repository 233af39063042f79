"""Coming duties as an iCalendar (RFC 5545) that any calendar program can show."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from itertools import groupby

from icalendar import Calendar, Event

from bot.core.messages import Words
from bot.core.scene import grouped
from bot.core.schedule import Occurrence

PRODUCT = "-//Vatside//duties//EN"


def as_calendar(kitchen: str, occurrences: Iterable[Occurrence], as_of: datetime, say: Callable[[Words], str]) -> bytes:
    """One event for each duty and due time, for all of its fryers, from due to the end of its grace.

    ``say`` puts words into the reader's language. Instants are written in UTC. An event keeps its UID from one file
    to the next, so that a program which reads the calendar again does not show it twice.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", kitchen)
    ordered = sorted(occurrences, key=lambda o: (o.due_at, o.slot.duty.id))
    for (due_at, duty), group in groupby(ordered, key=lambda o: (o.due_at, o.slot.duty.id)):
        together = list(group)
        event = Event()
        event.add("uid", f"{duty}-{due_at:%Y%m%dT%H%M}Z@{_host(kitchen)}")
        event.add("dtstamp", as_of)
        event.add("dtstart", due_at)
        event.add("dtend", max(occurrence.late_at for occurrence in together))
        (what,) = grouped((o.slot.duty.id, o.slot.fryer) for o in together)
        event.add("summary", say(what))
        # What is to be done at a time of the day takes nobody's time out of their calendar.
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _host(kitchen: str) -> str:
    """A name in place of a host's, for the right side of a UID (RFC 5545 section 3.8.4.7)."""
    return "".join(sign if sign.isascii() and sign.isalnum() else "-" for sign in kitchen.casefold()) + ".vatside"
