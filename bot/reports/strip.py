"""The strip of the last four weeks: one bar a kitchen day, as high as the share that was done on time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bot.core.compliance import judge_day
from bot.core.state import State
from bot.core.statistics import whole_percent
from bot.reports.canvas import LEFT, RIGHT, Align, Canvas
from bot.reports.lettering import fit
from bot.reports.palette import BLUISH_GREEN, QUIET, TEXT, TRACK
from bot.reports.picture_words import STRIP_DAYS, PictureWords

HEIGHT = 440
BARS = 190
AXIS = 66
"""Pixels left of the bars, for the figures beside the lines at 50 and 100 percent."""

BAR_SHARE = 0.66
"""Of the room for one day; the rest is the gap."""


@dataclass(frozen=True, slots=True)
class DayFigure:
    """How much of a kitchen day was done on time; ``judged`` 0 where nothing was judged."""

    day: date
    logged: bool
    on_time: int = 0
    judged: int = 0


def last_days(state: State, day: date, as_of: datetime) -> list[DayFigure]:
    """The figures of the four weeks that end with ``day``, oldest first."""
    found = []
    for back in range(STRIP_DAYS - 1, -1, -1):
        on = day - timedelta(days=back)
        report = judge_day(state, on, as_of, flagged=False)
        total = report.total if report is not None else None
        found.append(DayFigure(on, True, total.on_time, total.judged) if total is not None else DayFigure(on, False))
    return found


def draw_strip(canvas: Canvas, top: int, figures: Sequence[DayFigure], words: PictureWords) -> None:
    """Draw the strip in a card of ``HEIGHT``."""
    canvas.card(top, HEIGHT)
    _head(canvas, top + 56, figures, words)
    high = top + 116
    low = high + BARS
    for mark in (50, 100):
        y = low - BARS * mark / 100
        canvas.box(LEFT + AXIS, y, RIGHT, y + 1, TRACK)
        canvas.text(str(mark), LEFT + AXIS - 14, y, 28, QUIET, "right")
    room = (RIGHT - LEFT - AXIS) / len(figures)
    for number, figure in enumerate(figures):
        left = LEFT + AXIS + room * (number + (1 - BAR_SHARE) / 2)
        right = left + room * BAR_SHARE
        last = number == len(figures) - 1
        _bar(canvas, left, right, low, figure)
        if last:
            # The day of this picture, found at a glance.
            canvas.box(left, low + 10, right, low + 16, TEXT, radius=3)
        label = words.dates.get(figure.day)
        if label is not None:
            align: Align = "right" if last else "centre"
            x = RIGHT if last else (left + right) / 2
            canvas.lettering(fit(label, room * 6.5, 28, 22), x, low + 44, TEXT if last else QUIET, align)
    _legend(canvas, low + 98, words)


def _head(canvas: Canvas, middle: int, figures: Sequence[DayFigure], words: PictureWords) -> None:
    on_time, judged = sum(f.on_time for f in figures), sum(f.judged for f in figures)
    title = fit(words.labels["picture.last_days"], 540, 38, 28, bold=True)
    canvas.lettering(title, LEFT, middle)
    if judged:
        canvas.percent(str(whole_percent(on_time / judged)), RIGHT, middle, 50, "right")


def _bar(canvas: Canvas, left: float, right: float, low: int, figure: DayFigure) -> None:
    if figure.judged == 0:
        if figure.logged:
            canvas.box(left, low - 5, right, low, QUIET)
        return
    canvas.box(left, low - BARS, right, low, TRACK, radius=5)
    if figure.on_time:
        canvas.box(left, low - BARS * figure.on_time / figure.judged, right, low, BLUISH_GREEN, radius=5)


def _legend(canvas: Canvas, middle: int, words: PictureWords) -> None:
    canvas.box(LEFT + AXIS, middle - 2, LEFT + AXIS + 24, middle + 3, QUIET)
    block = fit(words.labels["picture.no_figure"], RIGHT - LEFT - AXIS - 44, 28, 22)
    canvas.lettering(block, LEFT + AXIS + 44, middle, QUIET)
