"""Letters in pictures: a font that has every Spanish letter, and text that is made to fit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files

from PIL import ImageFont

ELLIPSIS = "…"
LINE_HEIGHT = 1.2
"""Of the size of the letters."""


@lru_cache(maxsize=64)
def font(size: int, bold: bool = False) -> ImageFont.FreeTypeFont:
    """A typeface drawn for poor sight, so for a phone at arm's length. Raises ``ModuleNotFoundError`` without it.

    Pillow's own default font lacks the accented letters.
    """
    weight = "Bold" if bold else "Regular"
    with as_file(files("fontpkg_atkinson_hyperlegible") / "files" / f"AtkinsonHyperlegible-{weight}.ttf") as path:
        return ImageFont.truetype(path, size)


@dataclass(frozen=True, slots=True)
class Lettering:
    """Text broken into lines that fit, at the size at which they do."""

    lines: tuple[str, ...]
    size: int
    bold: bool

    @property
    def font(self) -> ImageFont.FreeTypeFont:
        """The font to draw the lines in."""
        return font(self.size, self.bold)

    @property
    def width(self) -> float:
        """Of the longest line, in pixels."""
        return max((self.font.getlength(line) for line in self.lines), default=0.0)

    @property
    def line_height(self) -> int:
        """From one line to the next, in pixels."""
        return round(self.size * LINE_HEIGHT)

    @property
    def height(self) -> int:
        """Of all lines, in pixels."""
        return self.line_height * len(self.lines)


def fit(
    text: str, width: float, size: int, smallest: int | None = None, lines: int = 1, bold: bool = False
) -> Lettering:
    """Text in at most ``lines`` lines of ``width`` pixels; letters shrink first, and only then is it cut."""
    smallest = size if smallest is None else smallest
    for pixels in range(size, smallest - 1, -1):
        broken = _wrap(text, width, font(pixels, bold))
        if len(broken) <= lines and all(font(pixels, bold).getlength(line) <= width for line in broken):
            return Lettering(tuple(broken), pixels, bold)
    letters = font(smallest, bold)
    broken = _wrap(text, width, letters)
    kept = [*broken[: lines - 1], " ".join(broken[lines - 1 :])]
    return Lettering(tuple(_cut(line, width, letters) for line in kept), smallest, bold)


def fit_name(text: str, width: float, size: int) -> Lettering:
    """A name on one line where it can be; on two it is smaller, to stay clear of the rows above and below."""
    one = fit(text, width, size, size - 3)
    return one if one.lines == (text,) else fit(text, width, size - 4, size - 10, lines=2)


def _wrap(text: str, width: float, letters: ImageFont.FreeTypeFont) -> list[str]:
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and letters.getlength(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _cut(line: str, width: float, letters: ImageFont.FreeTypeFont) -> str:
    if letters.getlength(line) <= width:
        return line
    while line and letters.getlength(line + ELLIPSIS) > width:
        line = line[:-1]
    return line.rstrip() + ELLIPSIS
