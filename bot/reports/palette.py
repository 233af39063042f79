"""The colours of the pictures: a dark ground for a dim kitchen, and verdicts that stay apart for the colour-blind.

Verdict colours come from the palette of M. Okabe and K. Ito, "Color Universal Design" (2008), whose RGB values are
printed in Nature Methods 8 (2011) 441, doi 10.1038/nmeth.1618. The tests measure contrast and what simulated
colour blindness leaves of the differences.
"""

from __future__ import annotations

from typing import Literal

from bot.core.compliance import Verdict

Colour = tuple[int, int, int]
Mark = Verdict | Literal["not_due"]
"""What stands in a cell of the grid: a verdict, or that there was nothing to do."""

GROUND: Colour = (0x0E, 0x12, 0x16)
CARD: Colour = (0x17, 0x1D, 0x24)
TRACK: Colour = (0x30, 0x39, 0x45)
RAIL: Colour = (0x22, 0x2A, 0x33)
TEXT: Colour = (0xF2, 0xF5, 0xF7)
QUIET: Colour = (0xA9, 0xB4, 0xC0)

BLUISH_GREEN: Colour = (0x00, 0x9E, 0x73)
YELLOW: Colour = (0xF0, 0xE4, 0x42)
VERMILLION: Colour = (0xD5, 0x5E, 0x00)
REDDISH_PURPLE: Colour = (0xCC, 0x79, 0xA7)

MARKS: dict[Mark, Colour] = {
    "on_time": BLUISH_GREEN,
    "late": YELLOW,
    "missed": VERMILLION,
    "excused": REDDISH_PURPLE,
    "open": TEXT,
    "not_due": QUIET,
}
"""In the order in which a legend names them."""
