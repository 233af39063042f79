"""A sticker for each fryer, to print: a square code that opens the chat at that fryer, with its name and a line."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reportlab.lib.colors import black, grey
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from bot.reports.qr import QUIET_ZONE, square
from bot.reports.typeface import BOLD, REGULAR, register

Paper = Literal["a4", "letter"]
SIZES = {"a4": A4, "letter": LETTER}

WIDTH, HEIGHT = 92 * mm, 122 * mm
"""Of one sticker. Two by two fit on either paper with more margin than a printer leaves white."""

CODE = 64 * mm
"""Side of the code with its white zone; read from an arm's length, about ten times that (common practice)."""

ACROSS, DOWN = 2, 2
INSIDE = 6 * mm
LEAST_POINTS = 7.0


@dataclass(frozen=True, slots=True)
class Sticker:
    """What stands on one: the fryer in each language, what the crew calls it, its link, and a line in each language."""

    titles: Sequence[str]
    name: str | None
    link: str
    lines: Sequence[str]


def as_pdf(stickers: Sequence[Sticker], kitchen: str, paper: Paper) -> bytes:
    """All stickers, four on a page, with lines to cut along."""
    register()
    out = io.BytesIO()
    page = SIZES[paper]
    canvas = Canvas(out, pagesize=page)
    canvas.setTitle(kitchen)
    left, bottom = (page[0] - ACROSS * WIDTH) / 2, (page[1] - DOWN * HEIGHT) / 2
    for number, sticker in enumerate(stickers):
        place = number % (ACROSS * DOWN)
        if number and place == 0:
            canvas.showPage()
        across, down = place % ACROSS, place // ACROSS
        _draw(canvas, sticker, kitchen, left + across * WIDTH, bottom + (DOWN - 1 - down) * HEIGHT)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, sticker: Sticker, kitchen: str, x: float, y: float) -> None:
    canvas.setStrokeColor(grey)
    canvas.setDash(2, 2)
    canvas.setLineWidth(0.4)
    canvas.rect(x, y, WIDTH, HEIGHT)
    canvas.setDash()
    middle = x + WIDTH / 2
    top = y + HEIGHT - INSIDE
    top = _line(canvas, " · ".join(dict.fromkeys(sticker.titles)), BOLD, 19, middle, top)
    if sticker.name is not None:
        top = _line(canvas, sticker.name, REGULAR, 13, middle, top - 1 * mm)
    _code(canvas, sticker.link, middle - CODE / 2, top - CODE)
    top -= CODE + 1 * mm
    for line in sticker.lines:
        top = _line(canvas, line, REGULAR, 12, middle, top) - 1 * mm
    _line(canvas, kitchen, REGULAR, 8, middle, y + INSIDE + 8)


def _line(canvas: Canvas, text: str, font: str, points: float, middle: float, top: float) -> float:
    """One line in the middle, smaller where it is long; in two where it would get too small. Gives its lower edge."""
    room = WIDTH - 2 * INSIDE
    width = stringWidth(text, font, points)
    fitting = points * min(1.0, room / width) if width else points
    if fitting < max(LEAST_POINTS, points * 0.85) and " " in text:
        cut = min((n for n, sign in enumerate(text) if sign == " "), key=lambda n: abs(n - len(text) / 2))
        top = _line(canvas, text[:cut], font, points, middle, top)
        return _line(canvas, text[cut + 1 :], font, points, middle, top)
    canvas.setFillColor(black)
    canvas.setFont(font, fitting)
    canvas.drawCentredString(middle, top - fitting, text)
    return top - fitting * 1.25


def _code(canvas: Canvas, link: str, x: float, y: float) -> None:
    """The code with its white zone, its lower left corner at ``x``, ``y``."""
    rows = [list(row) for row in square(link).matrix_iter(border=QUIET_ZONE)]
    module = CODE / len(rows)
    canvas.setFillColor(black)
    path = canvas.beginPath()
    for down, row in enumerate(rows):
        across = 0
        while across < len(row):
            length = 0
            while across + length < len(row) and row[across + length]:
                length += 1
            if length:
                # Runs touch, so that no printer leaves hairlines between modules.
                path.rect(x + across * module, y + CODE - (down + 1) * module, length * module, module)
            across += length or 1
    canvas.drawPath(path, stroke=0, fill=1)
