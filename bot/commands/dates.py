"""Days and months as they are written on the command line."""

from __future__ import annotations

import re
from datetime import date

from bot.channels.errors import UsageError

YEARS = range(2000, 2200)
"""No log lies outside; and at the calendar's own ends (years 1 and 9999) there is no day before or after."""


def day_written(option: str, said: str) -> date:
    """The day that an option names. Raises ``UsageError``."""
    try:
        day = date.fromisoformat(said) if re.fullmatch(r"\d{4}-\d\d-\d\d", said, re.ASCII) else None
    except ValueError:
        day = None
    if day is None or day.year not in YEARS:
        raise UsageError(option, None, f"{said!r} is no date", 'write it as "2026-09-15"')
    return day


def month_written(option: str, said: str) -> date:
    """The first day of the month that an option names. Raises ``UsageError``."""
    match = re.fullmatch(r"(\d{4})-(\d\d?)", said, re.ASCII)
    year, month = (int(part) for part in match.groups()) if match is not None else (0, 0)
    if year not in YEARS or not 1 <= month <= 12:
        raise UsageError(option, None, f"{said!r} is no month", 'write it as "2026-09"')
    return date(year, month, 1)
