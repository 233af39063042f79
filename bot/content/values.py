"""Readers for what a kitchen file states in words: clock times, dates, lengths of time, zones, how often."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any
from zoneinfo import available_timezones

from bot.content.fields import Fault, Reader, kind_of, text
from bot.content.findings import instead

_CLOCK = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])")
_LOOSE_CLOCK = re.compile(r"([0-9]{1,2})[:.h]([0-9]{2})(?: ?([ap])\.?m\.?)?", re.IGNORECASE)
_LENGTH = re.compile(r"(?:([0-9]{1,3}) ?h)?(?: ?([0-9]{1,4}) ?min)?")
_ID = re.compile(r"[A-Za-z0-9_-]{1,12}")
_NOT_PLACES = {"localtime", "Factory", "posixrules"}

LONGEST = timedelta(days=31)
"""No grace, escalation or wait of a kitchen is longer; one that is, is a slip of the pen."""


def clock(value: Any) -> time:
    """A wall time, "HH:MM" on the 24-hour clock."""
    if type(value) is time and value.second == value.microsecond == 0:
        return value
    said = _expect_text(value, 'a time like "21:30"')
    found = _CLOCK.fullmatch(said)
    if found is None:
        raise Fault(f'"{said}" is no time of day', _clock_advice(said))
    return time(int(found[1]), int(found[2]))


def day(value: Any) -> date:
    """A calendar date, "YYYY-MM-DD"."""
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    said = _expect_text(value, 'a date like "2026-12-25"')
    try:
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", said):
            return date.fromisoformat(said)
    except ValueError:
        raise Fault(f'there is no date "{said}"', "check the month and the day") from None
    raise Fault(f'"{said}" is no date', 'write year, month, day, like "2026-12-25"')


def length(shortest: timedelta = timedelta(0), why: str = "") -> Reader[timedelta]:
    """A length of time: "30 min", "2 h", "1 h 30 min"."""

    def read(value: Any) -> timedelta:
        said = _expect_text(value, 'a length of time like "30 min"')
        found = _LENGTH.fullmatch(said)
        if found is None or not any(found.groups()):
            raise Fault(f'"{said}" is no length of time', 'write it like "30 min", "2 h" or "1 h 30 min"')
        span = timedelta(hours=int(found[1] or 0), minutes=int(found[2] or 0))
        if span < shortest:
            least = int(shortest / timedelta(minutes=1))
            raise Fault(f'"{said}" is too short', f"give at least {least} min{why}")
        if span > LONGEST:
            raise Fault(f'"{said}" is too long', f"give at most {LONGEST.days} days")
        return span

    return read


def zone(value: Any) -> str:
    """The name of a time zone in the IANA database."""
    said = text(value)
    if said not in zones():
        towns = [name for name in zones() if name.rpartition("/")[2].casefold() == said.casefold().replace(" ", "_")]
        advice = 'write region and city, like "America/New_York"'
        todo = f'did you mean "{min(towns, key=len)}"?' if towns else instead(said, zones(), advice)
        raise Fault(f'unknown time zone "{said}"', todo)
    return said


def short_id(value: Any) -> str:
    """An id that fits into a button: 1 to 12 letters, digits, ``_`` or ``-``."""
    said = text(value)
    if not _ID.fullmatch(said):
        raise Fault(f'"{said}" can\'t be an id', "use 1 to 12 letters without accents, digits, _ or -")
    return said


@cache
def zones() -> frozenset[str]:
    """Every time zone that may be named."""
    return frozenset(available_timezones() - _NOT_PLACES)


def _expect_text(value: Any, like: str) -> str:
    if not isinstance(value, str):
        raise Fault(f"this must be {like}, in quotes, not {kind_of(value)}", f"write {like}")
    return text(value)


def _clock_advice(said: str) -> str:
    found = _LOOSE_CLOCK.fullmatch(said)
    if found is not None:
        hour, minute, half = int(found[1]), int(found[2]), (found[3] or "").lower()
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half == "p" else 0)
        hour = 0 if hour == 24 else hour
        if hour < 24 and minute < 60:
            return f'write it as "{hour:02}:{minute:02}"'
    return 'write hours and minutes on the 24-hour clock, like "21:30"'
