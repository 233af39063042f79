"""A month's duties for an inspector: what was due, done, by whom and when, with every correction shown as one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Literal

from bot.core import records as r
from bot.core.calendar import ONE_DAY, calendar
from bot.core.compliance import Tally, Verdict, judge_day
from bot.core.pieces import done_at
from bot.core.schedule import rules_on
from bot.core.state import State

SAID_LATER = timedelta(minutes=5)
"""A confirmation that states a time this far before it was written down is shown with both; common practice."""


@dataclass(frozen=True, slots=True)
class Line:
    """One duty of one kitchen day: when it was due (None: it wasn't), and what became of it.

    ``logged_at`` differs from ``done_at`` where somebody stated an earlier time. ``evidence`` names kept photos.
    """

    day: date
    duty: str
    fryer: str | None
    due_at: datetime | None
    result: Verdict | Literal["extra"]
    done_at: datetime | None = None
    logged_at: datetime | None = None
    by: str | None = None
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Correction:
    """An entry that was taken back: what it said, who wrote it and when, who took it back and when."""

    change: r.Change
    logged_at: datetime
    by: str | None
    undone_at: datetime
    undone_by: str


@dataclass(frozen=True)
class MonthReport:
    """A month of one kitchen. ``events`` holds what else was logged: tests, incidents, outages, resets."""

    kitchen: str
    first: date
    last: date
    as_of: datetime
    total: Tally
    by_duty: dict[str, Tally]
    lines: tuple[Line, ...]
    corrections: tuple[Correction, ...]
    events: tuple[tuple[datetime, r.Change], ...] = field(default=())


def month_report(turns: Iterable[r.Turn], month: date, as_of: datetime) -> MonthReport | None:
    """The month that ``month`` lies in, judged as of an instant; None where the log began after it.

    All turns are read: what comes after the month may correct it.
    """
    state = State()
    undone: dict[int, tuple[datetime, str]] = {}
    photos: dict[int, tuple[str, ...]] = {}
    for turn in turns:
        state.apply(turn, keep=None)
        for change in turn.changes:
            if isinstance(change, r.Undone):
                undone.setdefault(change.entry, (turn.at, change.by))
            elif isinstance(change, r.EvidenceKept):
                photos[change.entry] = (*photos.get(change.entry, ()), change.file)
    first = month.replace(day=1)
    last = (first + timedelta(days=31)).replace(day=1) - ONE_DAY
    rules = rules_on(state, last)
    if rules is None:
        return None
    days = calendar(rules)
    start, end = days.day_start(first), days.day_end(last)
    total, by_duty, lines = _judged(state, first, last, as_of, photos)
    logged = [entry for entry in state.all_entries() if start <= entry.at < end]
    corrections = [
        Correction(entry.change, entry.at, getattr(entry.change, "by", None), *undone[number])
        for entry in logged
        if entry.undone and (number := getattr(entry.change, "entry", 0)) in undone
    ]
    events = [(entry.at, entry.change) for entry in logged if not entry.undone and isinstance(entry.change, EVENTS)]
    return MonthReport(
        rules.name,
        first,
        last,
        as_of,
        total,
        by_duty,
        tuple(sorted(lines, key=_order)),
        tuple(sorted(corrections, key=lambda c: c.logged_at)),
        tuple(sorted(events, key=lambda event: event[0])),
    )


EVENTS = (
    r.ReadingTaken, r.IncidentReported, r.AlarmCalledOff, r.IncidentFollowedUp, r.OutageBegan, r.OutageEnded,
    r.ResetTried,
)  # fmt: skip


def rows(report: MonthReport) -> Iterator[dict[str, object]]:
    """The lines of the report as flat records, for a spreadsheet; instants in UTC, ISO 8601."""
    for line in report.lines:
        yield {
            "date": line.day.isoformat(),
            "duty": line.duty,
            "fryer": line.fryer,
            "due_at": line.due_at.isoformat() if line.due_at else None,
            "result": line.result,
            "done_at": line.done_at.isoformat() if line.done_at else None,
            "logged_at": line.logged_at.isoformat() if line.logged_at else None,
            "by": line.by,
            "evidence": " ".join(line.evidence),
        }


FIELDS = ("date", "duty", "fryer", "due_at", "result", "done_at", "logged_at", "by", "evidence")


def _judged(
    state: State, first: date, last: date, as_of: datetime, photos: dict[int, tuple[str, ...]]
) -> tuple[Tally, dict[str, Tally], list[Line]]:
    lines: list[Line] = []
    closed_by: set[int] = set()
    day = first
    while day <= last:
        report = judge_day(state, day, as_of, flagged=False)
        for judged in report.judged if report is not None else ():
            slot = judged.occurrence.slot
            done = judged.done
            confirmed = done.change if done is not None and isinstance(done.change, r.Confirmed) else None
            lines.append(
                Line(
                    day,
                    slot.duty.id,
                    slot.fryer,
                    judged.occurrence.due_at,
                    judged.verdict,
                    confirmed.done_at if confirmed is not None else None,
                    done.at if done is not None else None,
                    confirmed.by if confirmed is not None else None,
                    photos.get(confirmed.entry, ()) if confirmed is not None else (),
                )
            )
            if confirmed is not None:
                closed_by.add(confirmed.entry)
        lines += _extras(state, day, photos, closed_by)
        day += ONE_DAY
    lines = _settled(lines)
    by_duty = {
        duty: _tally([line for line in lines if line.duty == duty]) for duty in dict.fromkeys(x.duty for x in lines)
    }
    return _tally(lines), {duty: found for duty, found in by_duty.items() if found.due}, lines


def _settled(lines: list[Line]) -> list[Line]:
    """A duty that stays open is judged on each of its days; only the last of them says what became of it."""
    last = {(line.duty, line.fryer, line.due_at): n for n, line in enumerate(lines)}
    return [
        line for n, line in enumerate(lines) if line.result != "open" or last[line.duty, line.fryer, line.due_at] == n
    ]


def _extras(state: State, day: date, photos: dict[int, tuple[str, ...]], closed_by: set[int]) -> Iterator[Line]:
    """Confirmations of a day that closed nothing due."""
    rules = rules_on(state, day)
    if rules is None:
        return
    days = calendar(rules)
    start, end = days.day_start(day), days.day_end(day)
    for entries in state.confirmed.values():
        for entry in entries:
            change = entry.change
            if not isinstance(change, r.Confirmed) or entry.undone or change.entry in closed_by:
                continue
            if start <= done_at(change) < end:
                evidence = photos.get(change.entry, ())
                yield Line(day, change.duty, change.fryer, None, "extra", change.done_at, entry.at, change.by, evidence)


def _tally(lines: list[Line]) -> Tally:
    count = dict.fromkeys(("on_time", "late", "missed", "excused", "open"), 0)
    for line in lines:
        if line.result != "extra":
            count[line.result] += 1
    return Tally(**count)


NEVER = datetime.min.replace(tzinfo=UTC)


def _order(line: Line) -> tuple[date, datetime]:
    at = line.due_at or line.done_at
    return line.day, at if at is not None else NEVER
