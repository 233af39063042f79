"""The compliance summary of one kitchen day as data: JSON for programs, CSV for a spreadsheet."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from bot.core import schedule
from bot.core.compliance import DayReport, Judged, Tally, judge_day
from bot.core.flags import Flag
from bot.core.records import Confirmed
from bot.core.state import State
from bot.reports.csv_lines import csv_lines

CSV_FIELDS = ("date", "duty", "fryer", "due_at", "verdict", "done_at", "by")


class DayNotLoggedError(ValueError):
    """Nothing is known of a day: the log began after it."""


def as_json(state: State, day: date, as_of: datetime) -> dict[str, Any]:
    """The summary of kitchen day ``day`` as it stood at ``as_of``; rates are shares from 0 to 1, or None.

    ``state`` must hold the log of that day. Raises ``DayNotLoggedError``.
    """
    report, zone = _judged(state, day, as_of)
    return {
        "kitchen": report.kitchen,
        "date": day.isoformat(),
        **_figures(report.total),
        "by_duty": {duty: _group(tally) for duty, tally in report.by_duty().items()},
        "by_fryer": {fryer: _group(tally) for fryer, tally in report.by_fryer().items()},
        "open": [_open(one, zone) for one in report.judged if one.verdict == "open"],
        "flags": [_flag(one, zone) for one in report.flags],
    }


def as_csv(state: State, day: date, as_of: datetime) -> str:
    """One record for each duty that was judged, in the kitchen's order. Raises ``DayNotLoggedError``."""
    report, zone = _judged(state, day, as_of)
    return "".join(csv_lines(CSV_FIELDS, (_row(day, one, zone) for one in report.judged)))


def _judged(state: State, day: date, as_of: datetime) -> tuple[DayReport, ZoneInfo]:
    report, rules = judge_day(state, day, as_of), schedule.rules_on(state, day)
    if report is None or rules is None:
        raise DayNotLoggedError(f"nothing was logged by the end of {day}")
    return report, ZoneInfo(rules.timezone)


def _figures(tally: Tally) -> dict[str, Any]:
    low, high = tally.interval or (None, None)
    return {
        "due": tally.due,
        "on_time": tally.on_time,
        "late": tally.late,
        "missed": tally.missed,
        "excused": tally.excused,
        "rate": tally.rate,
        "rate_low": low,
        "rate_high": high,
    }


def _group(tally: Tally) -> dict[str, Any]:
    return {**_figures(tally), "open": tally.open}


def _open(one: Judged, zone: ZoneInfo) -> dict[str, Any]:
    occurrence = one.occurrence
    return {
        "duty": occurrence.slot.duty.id,
        "fryer": occurrence.slot.fryer,
        "due_at": occurrence.due_at.astimezone(zone).isoformat(),
    }


def _flag(flag: Flag, zone: ZoneInfo) -> dict[str, Any]:
    """A flag with its figures; what its rule doesn't know of is left out."""
    known = {
        "flag": flag.flag,
        "by": flag.by,
        "count": flag.count,
        "of": flag.of,
        "fryer": flag.fryer,
        "since": flag.since.astimezone(zone).isoformat() if flag.since is not None else None,
    }
    return {name: value for name, value in known.items() if value is not None}


def _row(day: date, one: Judged, zone: ZoneInfo) -> dict[str, Any]:
    row = {"date": day.isoformat(), **_open(one, zone), "verdict": one.verdict}
    if one.done is not None and isinstance(one.done.change, Confirmed):
        row |= {"done_at": one.done.change.done_at.astimezone(zone).isoformat(), "by": one.done.change.by}
    return row
