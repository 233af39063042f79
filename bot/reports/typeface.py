"""The typeface of the pictures, for PDFs: embedded, so that accents come out on any printer."""

from __future__ import annotations

from functools import cache
from importlib.resources import as_file, files

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD = "Atkinson", "Atkinson-Bold"


@cache
def register() -> None:
    """Make both weights known to reportlab."""
    for font, weight in ((REGULAR, "Regular"), (BOLD, "Bold")):
        with as_file(files("fontpkg_atkinson_hyperlegible") / "files" / f"AtkinsonHyperlegible-{weight}.ttf") as path:
            pdfmetrics.registerFont(TTFont(font, str(path)))
