"""Clock times, lengths of time and days: "half past nine", "a las 10 y media", "in 20", "hace media hora"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from intents.lexicon import Match, both
from intents.slots.numbers import number_at
from intents.slots.spans import Span, free
from intents.types import Period

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_DIGITAL = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::\d\d)?")
_LATEST_EVENING = 10
"""A bare "at 9" or "at 10" is taken for the evening, when kitchens close; 11 and 12 as they are. Common practice."""


@dataclass(frozen=True, slots=True)
class Clock(Span):
    """A wall time; ``vague`` where the words leave the half of the day open, ``bare`` where it is one small number."""

    hour: int = 0
    minute: int = 0
    vague: bool = False
    bare: int | None = None

    @property
    def text(self) -> str:
        """ "HH:MM" on the 24-hour clock."""
        return f"{self.hour:02}:{self.minute:02}"


@dataclass(frozen=True, slots=True)
class Length(Span):
    """A length of time in minutes."""

    minutes: int = 0
    ago: bool = False
    ahead: bool = False


def clocks(words: Sequence[str]) -> Iterator[Clock]:
    """Every clock time, from left to right."""
    at = 0
    while at < len(words):
        found = _clock_at(words, at)
        if found:
            yield found
            at = found.end
        else:
            at += 1


def _clock_at(words: Sequence[str], start: int) -> Clock | None:
    lead = both("clock.at").first_at(words, start) or _before_one(words, start)
    at = lead.end if lead else start
    if at >= len(words):
        return None
    for name, hour in (("noon", 12), ("midnight", 0)):
        named = both(f"clock.{name}").first_at(words, at)
        if named:
            return Clock(start, named.end, "{clock}", hour, 0)
    digital = _DIGITAL.fullmatch(words[at])
    if digital:
        return _with_half(words, start, at + 1, int(digital[1]), int(digital[2]), spelt_out=len(digital[1]) == 2)
    spoken = _half_past(words, at) or _hour(words, at, led=lead is not None)
    if not spoken:
        return None
    end, hour, minute, sure = spoken
    if hour > 23 or (hour == 0 and not lead):
        return None
    found = _with_half(words, start, end, hour, minute, spelt_out=False)
    if not sure and not lead and found.end == end:
        return None
    bare = hour if end == at + 1 and found.vague and lead else None
    return Clock(found.start, found.end, found.mask, found.hour, found.minute, found.vague, bare)


def _before_one(words: Sequence[str], start: int) -> Match | None:
    """ "a la una", but not "a la 3" or "a la 1": in Spanish only one o'clock is singular, and fryers are too."""
    lead = both("clock.at_one").first_at(words, start)
    number = number_at(words, lead.end) if lead else None
    if lead is None or number is None or number.value != 1:
        return None
    return lead if words[lead.end] in both("clock.one") or _half_day(words, number.end) else None


def _half_past(words: Sequence[str], at: int) -> tuple[int, int, int, bool] | None:
    """ "half past nine", "ten to four", "quarter past 9"."""
    if both("clock.half").first_at(words, at):
        minutes, end = 30, at + 1
    elif both("clock.quarter").first_at(words, at):
        minutes, end = 15, at + 1
    elif (number := number_at(words, at)) and number.value in (5, 10, 20, 25):
        minutes, end = int(number.value), number.end
    else:
        return None
    if end >= len(words):
        return None
    past, to = both("clock.past").first_at(words, end), both("clock.to").first_at(words, end)
    link = past or to
    article = both("clock.article").first_at(words, link.end) if link and link.end < len(words) else None
    hour = number_at(words, (article or link).end) if link else None
    if link is None or hour is None or not 1 <= hour.value <= 12 or hour.value % 1:
        return None
    if past:
        return hour.end, int(hour.value), minutes, True
    return hour.end, (int(hour.value) - 1) or 12, 60 - minutes, True


def _hour(words: Sequence[str], at: int, led: bool) -> tuple[int, int, int, bool] | None:
    """ "4", "four thirty", "10 y media", "nueve menos cuarto", "nine o'clock"; the last value: sure to be a time."""
    number = number_at(words, at)
    if number is None:
        return None
    value, end = number.value, number.end
    if value % 1 == 0.5 and led:
        return (end, int(value), 30, True) if 1 <= value < 13 else None
    if not led and value % 1:
        return None
    if value % 1:
        hour, minute = int(value), round(value % 1 * 100)
        return (end, hour, minute, True) if hour < 24 and minute < 60 else None
    if not number.in_digits and 100 < value < 1300 and value % 100 < 60:
        return (end, int(value // 100), int(value % 100), False) if led or _half_day(words, end) else None
    if value > 23:
        return None
    hour = int(value)
    mark = both("clock.hour_mark").first_at(words, end) if end < len(words) else None
    if mark:
        return mark.end, hour, 0, True
    past = both("clock.past").first_at(words, end) if end < len(words) else None
    to = both("clock.to").first_at(words, end) if end < len(words) else None
    for link, sign in ((past, 1), (to, -1)):
        if link and link.end < len(words) and led:
            part = _minutes_part(words, link.end)
            if part:
                total = hour * 60 + sign * part[1]
                return part[0], total // 60 % 24, total % 60, True
    more = number_at(words, end)
    if led and more and more.in_digits and 5 <= more.value < 60 and not _counts(words, more.end):
        return more.end, hour, int(more.value), True
    if _counts(words, end):
        return None
    return end, hour, 0, False


def _minutes_part(words: Sequence[str], at: int) -> tuple[int, int] | None:
    if both("clock.half").first_at(words, at):
        return at + 1, 30
    if both("clock.quarter").first_at(words, at):
        return at + 1, 15
    number = number_at(words, at)
    if number and 1 <= number.value < 60 and number.value % 1 == 0 and not _counts(words, number.end):
        return number.end, int(number.value)
    return None


def _counts(words: Sequence[str], at: int) -> bool:
    """Whether what follows a number makes it a count, a reading or a length."""
    if at >= len(words):
        return False
    names = (
        "duration.minutes",
        "duration.hours",
        "amount.percent",
        "amount.fahrenheit",
        "amount.celsius",
        "amount.degrees",
        "amount.counted",
    )
    if any(both(name).first_at(words, at) for name in names):
        return True
    counted = both("fryer.counted").first_at(words, at)
    return counted is not None and _half_day(words, at) is None and not both("clock.hour_mark").first_at(words, at)


def _half_day(words: Sequence[str], at: int) -> tuple[int, str] | None:
    if at >= len(words):
        return None
    for name in ("morning", "afternoon"):
        match = both(f"clock.{name}").first_at(words, at)
        if match:
            return match.end, name
    return None


def _with_half(words: Sequence[str], start: int, end: int, hour: int, minute: int, spelt_out: bool) -> Clock:
    near = _half_day(words, end)
    half = near[1] if near else _half_named(words)
    end = near[0] if near else end
    night_twelve = hour == 12 and near is not None and both("clock.night").ends_at(words, end) is not None
    if hour > 12 or hour == 0 or (spelt_out and hour < 10):
        return Clock(start, end, "{clock}", hour, minute)
    if half == "morning" or night_twelve:
        return Clock(start, end, "{clock}", hour % 12, minute)
    if half == "afternoon":
        return Clock(start, end, "{clock}", hour % 12 + 12, minute)
    guess = hour + 12 if hour <= _LATEST_EVENING else hour
    return Clock(start, end, "{clock}", guess, minute, vague=True)


def _half_named(words: Sequence[str]) -> str | None:
    """The half of the day that the message names somewhere else ("this morning", "anoche")."""
    for name in ("morning", "afternoon"):
        if any(True for _ in both(f"clock.{name}_named").find(words)):
            return name
    return None


def lengths(words: Sequence[str], taken: Sequence[Span]) -> Iterator[Length]:
    """Every length of time that no other span has taken."""
    at = 0
    while at < len(words):
        found = _length_at(words, at)
        if found and free(taken, found.start, found.end):
            yield found
            at = found.end
        else:
            at += 1


def _length_at(words: Sequence[str], start: int) -> Length | None:
    fixed = (("hour_and_half", 90), ("half_hour", 30), ("quarter_hour", 15), ("one_hour", 60))
    for name, minutes in fixed:
        named = both(f"duration.{name}").first_at(words, start)
        if named:
            return _placed(words, start, named.end, minutes)
    number = number_at(words, start)
    if number is None or number.end >= len(words):
        return _bare_length(words, start)
    hours = both("duration.hours").first_at(words, number.end)
    minutes_unit = both("duration.minutes").first_at(words, number.end)
    if hours:
        end, total = hours.end, number.value * 60
        half = both("number_parts.half").first_at(words, end) if end < len(words) else None
        if half:
            return _placed(words, start, half.end, round(total) + 30)
        link = end + 1 if end < len(words) and words[end] in both("number_parts.link") else end
        more = number_at(words, link)
        if more and more.end < len(words) and both("duration.minutes").first_at(words, more.end):
            return _placed(words, start, more.end + 1, round(total + more.value))
        return _placed(words, start, end, round(total))
    if minutes_unit:
        return _placed(words, start, minutes_unit.end, round(number.value))
    return _bare_length(words, start)


def _bare_length(words: Sequence[str], start: int) -> Length | None:
    """ "remind me in 20": minutes without saying so."""
    number = number_at(words, start)
    if number is None or not 5 <= number.value <= 240 or number.value % 1 or _counts(words, number.end):
        return None
    led = both("duration.ahead").ends_at(words, start) or both("duration.asks").ends_at(words, start)
    asks = any(True for _ in both("duration.asks").find(words))
    if led and asks and _half_day(words, number.end) is None:
        return _placed(words, start, number.end, int(number.value))
    return None


def _placed(words: Sequence[str], start: int, end: int, minutes: int) -> Length:
    before = both("duration.ago").ends_at(words, start)
    after = both("duration.ago").first_at(words, end) if end < len(words) else None
    ahead = both("duration.ahead").ends_at(words, start) is not None
    return Length(start, end, "{minutes}", minutes, ago=bool(before or after), ahead=ahead and not before)


def days_ago(words: Sequence[str]) -> int | None:
    """0 where the message says today, 1 for yesterday or last night, None where it names no day."""
    if any(True for _ in both("days.yesterday").find(words)):
        return 1
    return 0 if any(True for _ in both("days.today").find(words)) else None


def period_named(words: Sequence[str]) -> Period | None:
    """The week or month that the message names."""
    periods: tuple[Period, ...] = ("last_week", "last_month", "this_week", "this_month")
    return next((name for name in periods if any(True for _ in both(f"days.{name}").find(words))), None)


def weekday_named(words: Sequence[str]) -> int | None:
    """The day of the week that the message names, 0 for Monday; None for none or for more than one."""
    named = {at for at, day in enumerate(WEEKDAYS) if any(True for _ in both(f"weekdays.{day}").find(words))}
    return named.pop() if len(named) == 1 else None


def tomorrow_named(words: Sequence[str]) -> bool:
    """Whether the message names the next day; "la manana" is the morning."""
    article = both("clock.article")
    found = both("days.tomorrow").find(words)
    return any(match.start == 0 or words[match.start - 1] not in article for match in found)


def after_rush(words: Sequence[str]) -> bool:
    """Whether the message names the end of the rush as the time."""
    return any(True for _ in both("days.after_rush").find(words))
