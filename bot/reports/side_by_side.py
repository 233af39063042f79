"""Several kitchens side by side on one kitchen day: the one with the most to act on first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from bot.core.calendar import ONE_DAY
from bot.core.compliance import DayReport, Tally, judge_day, tally
from bot.core.messages import Words
from bot.core.state import State
from bot.core.statistics import whole_percent
from bot.core.summary import verdict
from bot.reports.canvas import INNER, LEFT, MARGIN, RIGHT, Canvas
from bot.reports.lettering import fit
from bot.reports.palette import BLUISH_GREEN, QUIET, TEXT, TRACK, Mark

WEEK = 7
"""Kitchen days, the asked one the last of them."""

HEADING, ROW = 150, 210
SHOWN: tuple[Mark, ...] = ("late", "missed", "open")
LABELS = ("picture.title", "picture.week", "picture.no_rate", *(f"picture.{mark}" for mark in SHOWN))


@dataclass(frozen=True, slots=True)
class KitchenDay:
    """One kitchen's day, and the week that ends with it."""

    name: str
    report: DayReport
    week: Tally


def kitchen_day(name: str, state: State, day: date, as_of: datetime) -> KitchenDay | None:
    """The day of one kitchen; None where it was closed or its log began later. ``state`` must hold that week's log."""
    report = judge_day(state, day, as_of)
    if report is None or report.closed:
        return None
    days = (judge_day(state, day - back * ONE_DAY, as_of, flagged=False) for back in range(WEEK))
    return KitchenDay(name, report, tally(tuple(judged for one in days if one is not None for judged in one.judged)))


def ranked(days: Iterable[KitchenDay]) -> list[KitchenDay]:
    """By the share on time, the lowest first, then by what was missed; a day without figures comes last."""

    def rank(day: KitchenDay) -> tuple[float, int, str]:
        total = day.report.total
        return (1.1 if total.rate is None else total.rate, -total.missed, day.name)

    return sorted(days, key=rank)


def lines(days: Sequence[KitchenDay], on: date) -> tuple[Words, ...]:
    """A head, and a line a kitchen."""
    return (Words("rollup.head", {"n": len(days), "on": on}), *map(_line, ranked(days)))


def as_json(days: Sequence[KitchenDay], on: date) -> dict[str, Any]:
    """The same as data; rates are shares from 0 to 1, or None."""
    rows = [
        {
            "kitchen": day.name, "on_time": total.on_time, "late": total.late, "missed": total.missed,
            "excused": total.excused, "open": total.open, "rate": total.rate, "week_rate": day.week.rate,
        }
        for day in ranked(days)
        for total in (day.report.total,)
    ]  # fmt: skip
    return {"date": on.isoformat(), "kitchens": rows}


def picture(days: Sequence[KitchenDay], on: str, say: Callable[[Words], str]) -> bytes:
    """The same as a PNG file for a phone; ``on`` is the date as people write it."""
    labels = {label: say(Words(label)) for label in LABELS}
    canvas = Canvas(HEADING + len(days) * (ROW + MARGIN // 2) + MARGIN)
    canvas.lettering(fit(labels["picture.title"], INNER - 340, 50, 34, bold=True), LEFT, 76)
    canvas.lettering(fit(on, 320, 38, 28), RIGHT, 76, TEXT, "right")
    for number, day in enumerate(ranked(days)):
        _draw(canvas, HEADING + number * (ROW + MARGIN // 2), day, labels)
    return canvas.png()


def _line(day: KitchenDay) -> Words:
    params: dict[str, Any] = {"kitchen": day.name, "verdict": verdict(day.report)}
    if day.week.rate is None or day.week.judged == day.report.total.judged:
        return Words("rollup.line", params)
    return Words("rollup.line_and_week", {**params, "percent": whole_percent(day.week.rate), "n": WEEK})


def _draw(canvas: Canvas, top: int, day: KitchenDay, labels: Mapping[str, str]) -> None:
    canvas.card(top, ROW)
    total = day.report.total
    canvas.lettering(fit(day.name, INNER - 220, 40, 28, bold=True), LEFT, top + 48)
    if total.rate is None:
        canvas.lettering(fit(labels["picture.no_rate"], 200, 30, 22), RIGHT, top + 48, QUIET, "right")
    else:
        canvas.percent(str(whole_percent(total.rate)), RIGHT, top + 48, 60, "right")
        canvas.box(LEFT, top + 92, RIGHT, top + 108, TRACK, radius=8)
        if total.on_time:
            canvas.box(LEFT, top + 92, LEFT + INNER * total.rate, top + 108, BLUISH_GREEN, radius=8)
    x = float(LEFT)
    for mark, count in zip(SHOWN, (total.late, total.missed, total.open), strict=True):
        canvas.mark(mark, x + 18, top + 158, 36)
        width = canvas.text(str(count), x + 48, top + 158, 34, TEXT if count else QUIET, bold=True)
        word = fit(labels[f"picture.{mark}"], 150, 28, 22)
        canvas.lettering(word, x + 60 + width, top + 158, QUIET)
        x += 60 + width + word.width + 34
    if day.week.rate is not None:
        figure = canvas.percent(str(whole_percent(day.week.rate)), RIGHT, top + 158, 34, "right")
        canvas.lettering(
            fit(labels["picture.week"], RIGHT - figure - x, 28, 20), RIGHT - figure - 14, top + 158, QUIET, "right"
        )
