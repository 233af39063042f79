"""A sheet to draw on: cards, text and symbols, with smooth edges."""

from __future__ import annotations

import io
from typing import Literal

from PIL import Image, ImageDraw

from bot.reports.lettering import Lettering, font
from bot.reports.palette import CARD, GROUND, MARKS, TEXT, Colour, Mark
from bot.reports.symbols import OVERSAMPLED, symbol

WIDTH = 1080
"""Pixels across: as wide as most phones show a picture."""

MARGIN = 36
PADDING = 36
INNER = WIDTH - 2 * (MARGIN + PADDING)
"""Pixels across within a card."""

LEFT = MARGIN + PADDING
RIGHT = WIDTH - LEFT

Align = Literal["left", "centre", "right"]
_ANCHORS: dict[Align, str] = {"left": "ls", "centre": "ms", "right": "rs"}

CAP_HEIGHT = 0.668
"""Height of a capital letter over the size of the letters, of the font in use (its OS/2 table)."""


class Canvas:
    """An image under way. Coordinates are pixels from the top left."""

    def __init__(self, height: int) -> None:
        self.image = Image.new("RGB", (WIDTH, height), GROUND)
        self._draw = ImageDraw.Draw(self.image)

    def box(self, x0: float, y0: float, x1: float, y1: float, colour: Colour, radius: int = 0) -> None:
        """A filled box with rounded corners; no taller or wider than one pixel is still seen."""
        width, height = max(1, round(x1) - round(x0)), max(1, round(y1) - round(y0))
        if radius == 0:
            self.image.paste(colour, (round(x0), round(y0), round(x0) + width, round(y0) + height))
            return
        mask = Image.new("L", (width * OVERSAMPLED // 2, height * OVERSAMPLED // 2), 0)
        rounded = min(radius, width // 2, height // 2) * OVERSAMPLED // 2
        ImageDraw.Draw(mask).rounded_rectangle((0, 0, mask.width - 1, mask.height - 1), rounded, fill=255)
        small = mask.resize((width, height), Image.Resampling.LANCZOS)
        self.image.paste(colour, (round(x0), round(y0)), small)

    def card(self, top: float, height: float) -> None:
        """The ground of one section."""
        self.box(MARGIN, top, WIDTH - MARGIN, top + height, CARD, radius=28)

    def mark(self, mark: Mark, x: float, y: float, size: int) -> None:
        """A symbol around a point, in its own colour."""
        shape = symbol(mark, size)
        self.image.paste(MARKS[mark], (round(x - size / 2), round(y - size / 2)), shape)

    def text(
        self,
        words: str,
        x: float,
        middle: float,
        size: int,
        colour: Colour = TEXT,
        align: Align = "left",
        bold: bool = False,
    ) -> float:
        """One line whose capitals stand around ``middle``; gives its width."""
        letters = font(size, bold)
        baseline = middle + CAP_HEIGHT * size / 2
        self._draw.text((x, baseline), words, fill=colour, font=letters, anchor=_ANCHORS[align])
        return letters.getlength(words)

    def percent(
        self, figure: str, x: float, middle: float, size: int, align: Literal["left", "right"] = "left"
    ) -> float:
        """A figure with a smaller percent sign after it, on one line; gives the width of both."""
        sign, gap = round(size * 0.6), round(size * 0.12)
        baseline_shift = CAP_HEIGHT * (size - sign) / 2
        width = font(size, True).getlength(figure) + gap + font(sign, True).getlength("%")
        left = x if align == "left" else x - width
        end = left + self.text(figure, left, middle, size, bold=True) + gap
        self.text("%", end, middle + baseline_shift, sign, bold=True)
        return width

    def lettering(
        self, block: Lettering, x: float, middle: float, colour: Colour = TEXT, align: Align = "left"
    ) -> None:
        """Fitted lines around ``middle``."""
        first = middle - block.line_height * (len(block.lines) - 1) / 2
        for number, line in enumerate(block.lines):
            at = first + number * block.line_height
            self.text(line, x, at, block.size, colour, align, block.bold)

    def upward(self, block: Lettering, x: float, bottom: float, colour: Colour = TEXT) -> None:
        """A line that reads upwards from ``bottom``, around ``x``."""
        words = " ".join(block.lines)
        strip = Image.new("L", (round(block.width) + 4, block.line_height), 0)
        baseline = (block.line_height + CAP_HEIGHT * block.size) / 2
        ImageDraw.Draw(strip).text((2, baseline), words, fill=255, font=block.font, anchor="ls")
        turned = strip.transpose(Image.Transpose.ROTATE_90)
        self.image.paste(colour, (round(x - turned.width / 2), round(bottom - turned.height)), turned)

    def png(self) -> bytes:
        """The image as the bytes of a PNG file."""
        written = io.BytesIO()
        self.image.save(written, "PNG", optimize=True)
        return written.getvalue()
