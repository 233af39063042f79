"""The summary of a week or a month: the figure beside what is usual, what went wrong most, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Literal

from bot.core import records as r
from bot.core.calendar import ONE_DAY
from bot.core.compliance import DayReport, Tally, count_day, tally
from bot.core.forecast import oil_life
from bot.core.kitchen import WEEKDAYS
from bot.core.messages import Words
from bot.core.scene import Scene, duty_words, fryer_words
from bot.core.skills import oil, supplies
from bot.core.statistics import whole_percent
from bot.core.summary import SCREEN, Section, fitted
from bot.core.trend import late_by, stands_out, trend

WORST = 3
"""Duties and days that are named; common practice: what fits in a head."""

Period = Literal["week", "month"]


def span(period: Period, day: date) -> tuple[date, date]:
    """The first and last day of the week (Monday to Sunday) or month that was over before ``day``."""
    if period == "week":
        last = day - timedelta(days=day.weekday() + 1)
        return last - timedelta(days=6), last
    last = day.replace(day=1) - ONE_DAY
    return last.replace(day=1), last


def so_far(period: Period, day: date) -> tuple[date, date]:
    """The week or month that ``day`` lies in, up to it."""
    return (day - timedelta(days=day.weekday()) if period == "week" else day.replace(day=1)), day


def period_summary(scene: Scene, first: date, last: date) -> tuple[Words, ...]:
    """The lines of the days from ``first`` to ``last``, at most a phone's screen; the state must hold their log."""
    reports = _reports(scene, first, last)
    total = _sum(reports)
    params: dict[str, object] = {"from": first, "to": last}
    if not total.judged or total.rate is None or total.interval is None:
        began = scene.state.log_began()
        known = began is not None and scene.days.day_of(began) <= last
        return (Words("period.nothing" if known else "period.no_record", params),)
    low, high = total.interval
    params |= {"on_time": total.on_time, "judged": total.judged, "percent": whole_percent(total.rate)}
    head = [Words("period.verdict", {**params, "low": round(100 * low), "high": round(100 * high)})]
    head += trend_lines(scene, last)
    found = [
        Section(_incidents(scene, first, last)),
        Section(_worst_duties(reports)),
        Section(_days(reports)),
        Section(_lateness(reports, total)),
        Section(_oil_ahead(scene)),
        Section(_orders(scene)),
    ]
    return (*head, *fitted([section for section in found if section.lines], SCREEN - len(head)))


def trend_lines(scene: Scene, day: date) -> list[Words]:
    """One line where the last four weeks are worse or better than the four before beyond chance; else none."""
    found = trend(scene.state, day, scene.now, scene.memo)
    if found.shift is None or found.usual.rate is None or found.recent.rate is None:
        return []
    params = {"usual": whole_percent(found.usual.rate), "recent": whole_percent(found.recent.rate)}
    return [Words(f"period.{found.shift}", params)]


def why_lines(scene: Scene, day: date) -> list[Words]:
    """What made a day what it was, beside the weeks around it: whether it stands out, and its weekday's record."""
    report = count_day(scene.state, day, scene.now, scene.memo)
    if report is None or report.closed or not report.total.judged:
        return []
    found = trend(scene.state, day - ONE_DAY, scene.now, scene.memo)
    weekday = found.by_weekday[day.weekday()]
    lines = []
    if found.recent.rate is not None:
        text = "period.stands_out" if stands_out(found.recent, report.total) else "period.as_usual"
        lines.append(Words(text, {"on": day, "usual": whole_percent(found.recent.rate)}))
    if weekday.rate is not None:
        name = Words(f"weekday.{WEEKDAYS[day.weekday()]}")
        lines.append(Words("period.weekday", {"weekday": name, "percent": whole_percent(weekday.rate)}))
    return lines


def _reports(scene: Scene, first: date, last: date) -> list[DayReport]:
    count = (last - first).days + 1
    found = (count_day(scene.state, first + timedelta(days=n), scene.now, scene.memo) for n in range(count))
    return [report for report in found if report is not None and not report.closed]


def _sum(reports: Sequence[DayReport]) -> Tally:
    return tally(tuple(judged for report in reports for judged in report.judged))


def _incidents(scene: Scene, first: date, last: date) -> tuple[Words, ...]:
    start, end = scene.days.day_start(first), scene.days.day_end(last)
    log = [
        entry.change
        for entry in scene.state.log
        if start <= entry.at < end
        and not entry.undone
        and not (isinstance(entry.change, r.IncidentReported) and scene.state.called_off_at(entry.at, entry.change))
    ]
    lines = []
    for name, kind in (
        ("incidents", r.IncidentReported),
        ("outages", r.OutageBegan),
        ("resets", r.ResetTried),
        ("unanswered", r.QuestionUnanswered),
    ):
        count = sum(isinstance(change, kind) for change in log)
        if count:
            lines.append(Words(f"period.{name}", {"n": count}))
    return tuple(lines)


def _worst_duties(reports: Sequence[DayReport]) -> tuple[Words, ...]:
    by_duty: dict[str, Tally] = {}
    for duty in dict.fromkeys(judged.occurrence.slot.duty.id for report in reports for judged in report.judged):
        by_duty[duty] = tally(
            tuple(j for report in reports for j in report.judged if j.occurrence.slot.duty.id == duty)
        )
    slips = sorted(by_duty.items(), key=lambda pair: pair[1].on_time - pair[1].judged)
    return tuple(
        Words("period.duty", {"what": duty_words(duty), "missed": found.missed, "late": found.late, "of": found.judged})
        for duty, found in slips[:WORST]
        if found.on_time < found.judged
    )


def _days(reports: Sequence[DayReport]) -> tuple[Words, ...]:
    """The days that stand out against the rest of the period, the worst first."""
    found = []
    for report in reports:
        others = _sum([other for other in reports if other.day != report.day])
        if stands_out(others, report.total):
            found.append(report)
    found.sort(key=lambda report: report.total.rate or 0.0)
    return tuple(
        Words("period.day", {"on": report.day, "on_time": report.total.on_time, "judged": report.total.judged})
        for report in found[:WORST]
    )


def _lateness(reports: Sequence[DayReport], total: Tally) -> tuple[Words, ...]:
    median = late_by(reports)
    return (Words("period.late_by", {"n": total.late, "length": median}),) if median is not None else ()


def _oil_ahead(scene: Scene) -> tuple[Words, ...]:
    lines = []
    for fryer in scene.kitchen.fryers:
        life = oil_life(scene, fryer.id)
        reach = oil.reach_words(scene, fryer.id, life)
        if life.fill.readings and life.advice == "change_tonight":
            params = {"fryer": fryer_words(fryer), "value": life.fill.readings[-1].percent}
            lines.append(Words("summary.oil_change_tonight", params))
        elif reach is not None:
            lines.append(reach)
    return tuple(lines)


def _orders(scene: Scene) -> tuple[Words, ...]:
    low = supplies.low(scene)
    if not low:
        return ()
    return (Words("summary.order", {"what": tuple(supplies.item_words(stock.item) for stock in low)}),)
