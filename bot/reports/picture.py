"""The summary of one kitchen day as a picture for a phone: verdict, grid of duties, the last four weeks."""

from __future__ import annotations

from datetime import date, datetime

from bot.core import schedule
from bot.core.compliance import DayReport, judge_day
from bot.core.state import State
from bot.core.statistics import whole_percent
from bot.reports.canvas import INNER, LEFT, MARGIN, RIGHT, Canvas
from bot.reports.grid import Grid, Row, marks
from bot.reports.lettering import fit, fit_name
from bot.reports.palette import BLUISH_GREEN, MARKS, QUIET, TEXT, TRACK, Mark
from bot.reports.picture_words import PictureWords
from bot.reports.strip import HEIGHT as STRIP_HEIGHT, draw_strip, last_days
from bot.reports.summary import DayNotLoggedError

HEADING = 190
VERDICT = 250
TALLY = 190
TALLY_ROW = 80
TALLY_COLUMNS = 3
FIGURES_LEFT = LEFT + 400
"""Where the figures beside the big percentage start."""


def summary_picture(state: State, day: date, as_of: datetime, words: PictureWords) -> bytes:
    """The picture of kitchen day ``day`` as it stood at ``as_of``, as a PNG file.

    ``state`` must hold the log of that day and of the 27 before. Raises ``DayNotLoggedError``.
    """
    report, rules = judge_day(state, day, as_of), schedule.rules_on(state, day)
    if report is None or rules is None:
        raise DayNotLoggedError(f"nothing was logged by the end of {day}")
    rows = marks(report, rules)
    grid = Grid(rows, rules.fryers, words)
    with_grid = grid.height + MARGIN if rows else 0
    canvas = Canvas(HEADING + VERDICT + TALLY + with_grid + STRIP_HEIGHT + 2 * MARGIN)
    _heading(canvas, report, words)
    _verdict(canvas, HEADING, report, words)
    _tally(canvas, HEADING + VERDICT, rows, words)
    top = HEADING + VERDICT + TALLY + MARGIN
    if rows:
        grid.draw(canvas, top)
        top += with_grid
    draw_strip(canvas, top, last_days(state, day, as_of), words)
    return canvas.png()


def _heading(canvas: Canvas, report: DayReport, words: PictureWords) -> None:
    on = words.dates.get(report.day, report.day.isoformat())
    date_block = fit(on, 320, 38, 28)
    title = fit(words.labels["picture.title"], INNER - date_block.width - 30, 36, 26)
    canvas.lettering(title, LEFT, 62, QUIET)
    canvas.lettering(date_block, RIGHT, 62, TEXT, "right")
    canvas.lettering(fit(report.kitchen, INNER, 58, 34, bold=True), LEFT, 130)


def _verdict(canvas: Canvas, top: int, report: DayReport, words: PictureWords) -> None:
    canvas.card(top, VERDICT + TALLY)
    middle = top + VERDICT / 2
    total = report.total
    if total.rate is None or total.interval is None:
        label = "picture.closed" if report.closed else "picture.no_rate"
        canvas.lettering(fit(words.labels[label], INNER, 72, 44, lines=2, bold=True), LEFT, middle)
        return
    canvas.percent(str(whole_percent(total.rate)), LEFT - 6, middle, 150)
    # So far: the day is still running, and what isn't due yet is not in the figure.
    rate = words.labels["picture.rate" if report.complete else "picture.so_far"]
    width = RIGHT - FIGURES_LEFT
    count = canvas.text(f"{total.on_time} / {total.judged}", FIGURES_LEFT, middle - 64, 44, bold=True)
    canvas.lettering(fit(rate, width - count - 20, 36, 26), FIGURES_LEFT + count + 20, middle - 64)
    low, high = total.interval
    canvas.box(FIGURES_LEFT, middle - 8, RIGHT, middle + 8, TRACK, radius=8)
    x0, x1 = FIGURES_LEFT + width * low, FIGURES_LEFT + width * high
    canvas.box(x0, middle - 8, max(x1, x0 + 16), middle + 8, QUIET, radius=8)
    at = min(max(FIGURES_LEFT + width * total.rate, FIGURES_LEFT + 9), RIGHT - 9)
    canvas.box(at - 9, middle - 24, at + 9, middle + 24, BLUISH_GREEN, radius=9)
    span = canvas.percent(f"{whole_percent(low)}–{whole_percent(high)}", FIGURES_LEFT, middle + 64, 38)
    block = fit(words.labels["picture.range"], width - span - 20, 30, 24)
    canvas.lettering(block, FIGURES_LEFT + span + 20, middle + 64, QUIET)


def _tally(canvas: Canvas, top: int, rows: list[Row], words: PictureWords) -> None:
    """How many of each mark there are; it is the legend of the grid as well."""
    counts: dict[Mark, int] = dict.fromkeys(MARKS, 0)
    for row in rows:
        for mark in row.marks.values():
            counts[mark] += 1
    column = INNER / TALLY_COLUMNS
    for number, (mark, count) in enumerate(counts.items()):
        x = LEFT + column * (number % TALLY_COLUMNS)
        middle = top + 40 + TALLY_ROW * (number // TALLY_COLUMNS)
        canvas.mark(mark, x + 24, middle, 48)
        width = canvas.text(str(count), x + 64, middle, 40, TEXT if count else QUIET, bold=True)
        block = fit_name(words.labels[f"picture.{mark}"], column - width - 92, 34)
        canvas.lettering(block, x + 78 + width, middle, QUIET)
