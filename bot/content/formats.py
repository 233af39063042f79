"""How values read: numbers, times, dates, lengths and lists, in a language and in a kitchen's own style."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil, isfinite
from pathlib import Path
from typing import Any, Literal, get_args

from bot.content import places
from bot.content.fields import Fault, Reader, Table, one_of, text
from bot.content.findings import ContentError, Finding
from bot.content.languages import LANGUAGES
from bot.content.templates import template
from bot.content.toml_lines import read_toml
from bot.core.kitchen import WEEKDAYS
from intents.types import Language

MONTHS = 12
TIME_MANNERS = ("plain", "when", "the")

Distance = Literal["today", "near", "far"]
DISTANCES: tuple[Distance, ...] = get_args(Distance)

ONE_DAY = timedelta(days=1)
ONE_HOUR = timedelta(hours=1)
ONE_MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Style:
    """The clock and the decimal sign that a kitchen is used to."""

    clock: int
    decimal: str


@dataclass(frozen=True, slots=True)
class Counted:
    """A text in the singular and the plural, with ``{n}``."""

    one: str
    other: str

    def put(self, n: int) -> str:
        """The form for ``n``, filled."""
        return (self.one if n == 1 else self.other).format(n=n)


@dataclass(frozen=True, slots=True)
class Joining:
    """The word before the last of a list, and the one that takes its place before certain sounds."""

    word: str
    before: tuple[str, re.Pattern[str]] | None

    def put(self, items: Sequence[str]) -> str:
        """A list as it is read: "a, b and c"."""
        if len(items) < 2:
            return "".join(items)
        word = self.before[0] if self.before is not None and self.before[1].match(items[-1]) else self.word
        return f"{', '.join(items[:-1])} {word} {items[-1]}"


@dataclass(frozen=True)
class Speech:
    """How one language puts values."""

    weekdays: tuple[str, ...]
    months: tuple[str, ...]
    date_form: str
    date_form_of_another_year: str
    yesterday: str
    tomorrow: str
    am: str
    pm: str
    the_clock: Mapping[str, str]
    time: Mapping[str, Mapping[str, str]]
    minutes: Mapping[str, Counted]
    hours: Mapping[str, Counted]
    days: Counted
    all_of: Joining
    any_of: Joining
    no_service_contact: str

    def day(self, on: date, today: date) -> str:
        """A date, with its year where that isn't this one: "Tue 15 Sep"."""
        form = self.date_form if on.year == today.year else self.date_form_of_another_year
        return form.format(
            weekday=self.weekdays[on.weekday()], day=on.day, month=self.months[on.month - 1], year=on.year
        )

    def moment(self, local: datetime, today: date, style: Style, manner: str) -> str:
        """A time in the kitchen's zone, with its day in front where that isn't today."""
        hour, half = local.hour, ""
        if style.clock == 12:
            hour, half = hour % 12 or 12, f" {self.am if hour < 12 else self.pm}"
        clock = f"{hour if half else f'{hour:02}'}:{local.minute:02}{half}"
        the_clock = self.the_clock["one" if hour == 1 else "other"].format(clock=clock)
        distance, day = self._day_of(local.date(), today)
        return self.time[manner or "plain"][distance].format(clock=clock, the_clock=the_clock, day=day)

    def _day_of(self, on: date, today: date) -> tuple[Distance, str]:
        if on == today:
            return "today", ""
        if abs(on - today) == ONE_DAY:
            return "near", self.yesterday if on < today else self.tomorrow
        return "far", self.day(on, today)

    def length(self, span: timedelta, long: bool = False) -> str:
        """A length of time in whole minutes, rounded up so that a wait is never said too short.

        Raises ``ValueError`` where it is below zero.
        """
        if span < timedelta(0):
            raise ValueError(f"a length of time below zero: {span}")
        minutes = ceil(span / ONE_MINUTE)
        days, rest = divmod(minutes, ONE_DAY // ONE_MINUTE)
        hours, minutes = divmod(rest, ONE_HOUR // ONE_MINUTE)
        form = "long" if long else "short"
        words = [self.days.put(days)] if days else []
        if hours:
            words.append(self.hours[form].put(hours))
        if (minutes and not days) or not words:
            words.append(self.minutes[form].put(minutes))
        return " ".join(words)


@dataclass(frozen=True)
class Formats:
    """The speech of every language, and the style of every zone."""

    speech: Mapping[Language, Speech]
    default: Style
    zones: Mapping[str, Style]

    def style(self, timezone: str) -> Style:
        """The style of the longest prefix that fits the zone's name."""
        fitting = [prefix for prefix in self.zones if timezone.startswith(prefix)]
        return self.zones[max(fitting, key=len)] if fitting else self.default


def number(value: float, style: Style) -> str:
    """A number to two decimals at most, thousands apart: 24, 20.5, 1,234.5. Raises ``ValueError`` if not finite."""
    if not isfinite(value):
        raise ValueError(f"no number to show: {value}")
    shown = f"{value:,.2f}".rstrip("0").rstrip(".")
    if shown == "-0":
        shown = "0"
    return shown.translate(str.maketrans(",.", ".,")) if style.decimal == "," else shown


def load_formats(path: Path = places.FORMATS) -> Formats:
    """Read the formats. Raises ``ContentError`` with every fault of the file."""
    document = read_toml(path)
    findings: list[Finding] = []
    top = Table(document, findings)
    style = _table(top, "style")
    default = _style(_table(style, "default"))
    zones = _table(style, "zones")
    styles = {prefix: _style(_table(zones, prefix)) for prefix in zones.data}
    style.finish()
    speech = {language: _speech(_table(top, language)) for language in LANGUAGES}
    top.finish()
    if findings:
        raise ContentError(findings)
    return Formats(speech, default, styles)


def _speech(table: Table) -> Speech:
    the_clock = _table(table, "the_clock")
    time = _table(table, "time")
    lengths = _table(table, "length")
    short, long = _table(lengths, "short"), _table(lengths, "long")
    speech = Speech(
        weekdays=_names(table, "weekdays", len(WEEKDAYS)),
        months=_names(table, "months", MONTHS),
        date_form=table.need("date", _form("weekday", "day", "month"), ""),
        date_form_of_another_year=table.need("date_of_another_year", _form("weekday", "day", "month", "year"), ""),
        yesterday=table.need("yesterday", text, ""),
        tomorrow=table.need("tomorrow", text, ""),
        am=table.need("am", text, ""),
        pm=table.need("pm", text, ""),
        the_clock={form: the_clock.need(form, _form("clock"), "") for form in ("one", "other")},
        time={manner: _moments(_table(time, manner)) for manner in TIME_MANNERS},
        minutes={"short": _counted(short, "minutes"), "long": _counted(long, "minutes")},
        hours={"short": _counted(short, "hours"), "long": _counted(long, "hours")},
        days=_counted(lengths, "days"),
        all_of=_joining(table, "and"),
        any_of=_joining(table, "or"),
        no_service_contact=table.need("no_service_contact", text, ""),
    )
    for inner in (the_clock, time, lengths, short, long, table):
        inner.finish()
    return speech


def _moments(table: Table) -> dict[str, str]:
    forms: dict[str, str] = {
        distance: table.need(distance, _form("clock", "the_clock", "day"), "") for distance in DISTANCES
    }
    table.finish()
    return forms


def _counted(table: Table, key: str) -> Counted:
    if isinstance(table.data.get(key), str):
        both = table.need(key, _form("n"), "")
        return Counted(both, both)
    forms = _table(table, key)
    counted = Counted(forms.need("one", _form("n"), ""), forms.need("other", _form("n"), ""))
    forms.finish()
    return counted


def _joining(table: Table, key: str) -> Joining:
    word = table.need(key, text, "")
    rule = table.table(f"{key}_before")
    if rule is None:
        return Joining(word, None)
    before = rule.need("word", text, ""), rule.need("start", _pattern, re.compile(""))
    rule.finish()
    return Joining(word, before)


def _style(table: Table) -> Style:
    style = Style(table.need("clock", _clock_of, 24), table.need("decimal", one_of("decimal sign", (".", ",")), "."))
    table.finish()
    return style


def _table(table: Table, key: str) -> Table:
    found = table.table(key)
    if found is None:
        table.fault(key, f"the table {key} is missing", "add it")
        return Table(table.document, table.findings, {}, (*table.path, key))
    return found


def _names(table: Table, key: str, count: int) -> tuple[str, ...]:
    names = table.items(key, text)
    if len(names) != count:
        table.fault(key, f"there are {len(names)} {key}", f"write all {count}")
    return names


def _form(*allowed: str) -> Reader[str]:
    def read(value: Any) -> str:
        said = text(value)
        for name in sorted(template(said).names - set(allowed)):
            raise Fault(f"unknown placeholder {{{name}}}", f"known here: {', '.join(allowed)}")
        return said

    return read


def _clock_of(value: Any) -> int:
    if value not in (12, 24) or isinstance(value, bool):
        raise Fault("the clock must be 12 or 24", "write 12 or 24 without quotes")
    return int(value)


def _pattern(value: Any) -> re.Pattern[str]:
    try:
        return re.compile(text(value), re.IGNORECASE)
    except re.error as error:
        raise Fault(f"this is no regular expression ({error})", "check its brackets") from None
