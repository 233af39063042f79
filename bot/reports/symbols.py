"""One shape for each mark, so that a picture says the same without its colours."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from PIL import Image, ImageDraw

from bot.reports.palette import Mark

OVERSAMPLED = 8
"""Shapes are drawn this much larger and scaled down: Pillow draws without smoothing."""


@lru_cache(maxsize=256)
def symbol(mark: Mark, size: int) -> Image.Image:
    """The shape of a mark as a mask ``size`` pixels square: 255 where it is to be inked."""
    side = size * OVERSAMPLED
    mask = Image.new("L", (side, side), 0)
    _SHAPES[mark](ImageDraw.Draw(mask), side)
    return mask.resize((size, size), Image.Resampling.LANCZOS)


def _line(draw: ImageDraw.ImageDraw, side: int, width: float, ink: int, *points: tuple[float, float]) -> None:
    """A line through points given as shares of the side, with round joints and ends."""
    at = [(x * side, y * side) for x, y in points]
    draw.line(at, fill=ink, width=round(width * side))
    radius = width * side / 2
    for x, y in at:
        draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=ink)


def _disc_with_tick(draw: ImageDraw.ImageDraw, side: int) -> None:
    draw.ellipse((0.02 * side, 0.02 * side, 0.98 * side, 0.98 * side), fill=255)
    _line(draw, side, 0.12, 0, (0.28, 0.52), (0.44, 0.68), (0.73, 0.35))


def _triangle(draw: ImageDraw.ImageDraw, side: int) -> None:
    _line(draw, side, 0.1, 255, (0.5, 0.1), (0.94, 0.88), (0.06, 0.88), (0.5, 0.1))
    draw.polygon([(0.5 * side, 0.1 * side), (0.94 * side, 0.88 * side), (0.06 * side, 0.88 * side)], fill=255)
    _line(draw, side, 0.1, 0, (0.5, 0.4), (0.5, 0.58))
    _line(draw, side, 0.12, 0, (0.5, 0.76), (0.5, 0.76))


def _cross(draw: ImageDraw.ImageDraw, side: int) -> None:
    _line(draw, side, 0.22, 255, (0.15, 0.15), (0.85, 0.85))
    _line(draw, side, 0.22, 255, (0.85, 0.15), (0.15, 0.85))


def _square_with_dash(draw: ImageDraw.ImageDraw, side: int) -> None:
    box = (0.06 * side, 0.06 * side, 0.94 * side, 0.94 * side)
    draw.rounded_rectangle(box, radius=0.16 * side, outline=255, width=round(0.11 * side))
    _line(draw, side, 0.12, 255, (0.32, 0.5), (0.68, 0.5))


def _ring(draw: ImageDraw.ImageDraw, side: int) -> None:
    draw.ellipse((0.04 * side, 0.04 * side, 0.96 * side, 0.96 * side), outline=255, width=round(0.13 * side))


def _dot(draw: ImageDraw.ImageDraw, side: int) -> None:
    draw.ellipse((0.4 * side, 0.4 * side, 0.6 * side, 0.6 * side), fill=255)


_SHAPES: dict[Mark, Callable[[ImageDraw.ImageDraw, int], None]] = {
    "on_time": _disc_with_tick,
    "late": _triangle,
    "missed": _cross,
    "excused": _square_with_dash,
    "open": _ring,
    "not_due": _dot,
}
