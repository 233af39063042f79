"""The grid of duties and fryers: what became of each, by shape and colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bot.core import schedule
from bot.core.compliance import DayReport
from bot.core.records import Rules
from bot.reports.canvas import LEFT, RIGHT, Canvas
from bot.reports.lettering import Lettering, fit, fit_name
from bot.reports.palette import QUIET, RAIL, TRACK, Mark
from bot.reports.picture_words import PictureWords

ROW = 92
HEAD = 80
PAD = 20
WIDEST_COLUMN = 150
NARROWEST_COLUMN = 68
ROOM_FOR_COLUMNS = 544
"""Pixels that the columns may take; eight fit, and the names of the duties keep the rest."""

SYMBOL = 50
SMALLEST_HEAD = 30
LONGEST_HEAD = 200
"""Pixels that a fryer's name may take, where it has to read upwards."""


@dataclass(frozen=True, slots=True)
class Row:
    """One duty: its mark on each fryer that it is for; under None that of the whole kitchen."""

    duty: str
    marks: Mapping[str | None, Mark]


def marks(report: DayReport, rules: Rules) -> list[Row]:
    """What stands in the grid: the verdicts of the day, and "not due" where there is none."""
    verdicts = {(j.occurrence.slot.duty.id, j.occurrence.slot.fryer): j.verdict for j in report.judged}
    found: dict[str, dict[str | None, Mark]] = {}
    for slot in schedule.slots(rules):
        mark: Mark = verdicts.get((slot.duty.id, slot.fryer), "not_due")
        found.setdefault(slot.duty.id, {})[slot.fryer] = mark
    return [Row(duty, by_fryer) for duty, by_fryer in found.items()]


class Grid:
    """The grid, laid out; ``height`` is that of its card."""

    def __init__(self, rows: Sequence[Row], fryers: Sequence[str], words: PictureWords) -> None:
        self._rows = rows
        self._fryers = fryers
        self._words = words
        room = ROOM_FOR_COLUMNS / max(1, len(fryers))
        self._column = min(WIDEST_COLUMN, max(NARROWEST_COLUMN, int(room)))
        self._heads = self._fit_heads(self._column - 8, smallest=SMALLEST_HEAD)
        self._upward = any(block is None for block in self._heads)
        if self._upward:
            self._heads = [fit(self._name(f), LONGEST_HEAD, 32, 26, bold=True) for f in fryers]
        tallest = max((block.width for block in self._heads if block is not None), default=0)
        self._head = max(HEAD, round(tallest) + 32) if self._upward else HEAD
        self.height = self._head + ROW * len(rows) + 2 * PAD

    def draw(self, canvas: Canvas, top: int) -> None:
        """Draw it in a card at ``top``."""
        canvas.card(top, self.height)
        start = RIGHT - self._column * len(self._fryers)
        self._draw_head(canvas, top + PAD, start)
        for number, row in enumerate(self._rows):
            self._draw_row(canvas, top + PAD + self._head + ROW * number, start, row)

    def _name(self, fryer: str) -> str:
        return self._words.fryers.get(fryer, fryer)

    def _fit_heads(self, width: float, smallest: int) -> list[Lettering | None]:
        blocks = [fit(self._name(f), width, 38, smallest, bold=True) for f in self._fryers]
        return [b if b.lines == (self._name(f),) else None for b, f in zip(blocks, self._fryers, strict=True)]

    def _draw_head(self, canvas: Canvas, top: int, start: int) -> None:
        middle = top + self._head / 2
        at = middle if not self._upward else top + self._head - 34
        label = fit(self._words.labels["picture.fryer"], start - LEFT - 24, 32, 26)
        canvas.lettering(label, start - 16, at, QUIET, "right")
        for number, block in enumerate(self._heads):
            x = start + self._column * (number + 0.5)
            if block is None:
                continue
            if self._upward:
                canvas.upward(block, x, top + self._head - 16)
            else:
                canvas.lettering(block, x, middle, align="centre")

    def _draw_row(self, canvas: Canvas, top: int, start: int, row: Row) -> None:
        middle = top + ROW / 2
        canvas.box(LEFT, top, RIGHT, top + 1, TRACK)
        name = self._words.duties.get(row.duty, row.duty)
        canvas.lettering(fit_name(name, start - LEFT - 20, 36), LEFT, middle)
        if None in row.marks:
            # One symbol on a bar across all fryers: it is done once, for all of them.
            canvas.box(start + 6, middle - 33, RIGHT - 6, middle + 33, RAIL, radius=33)
            canvas.mark(row.marks[None], (start + RIGHT) / 2, middle, SYMBOL)
            return
        for number, fryer in enumerate(self._fryers):
            if fryer in row.marks:
                canvas.mark(row.marks[fryer], start + self._column * (number + 0.5), middle, SYMBOL)
