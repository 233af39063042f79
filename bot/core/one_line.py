"""What somebody wrote, as one line that can stand among the helper's own: in a summary, a list, a terminal."""

from __future__ import annotations

import unicodedata

_JOINERS = ("\u200c", "\u200d")
"""They shape letters and pictures (Unicode Standard, section 23.2) and are kept."""


def one_line(text: str) -> str:
    """The text without line ends, signs that steer a terminal, and marks that turn the text around them.

    Otherwise a note could look like several lines of a summary, or hide what stands beside it.
    """
    spaced = "".join(" " if unicodedata.category(sign) == "Cc" else sign for sign in text)
    shown = (s for s in spaced if s in _JOINERS or unicodedata.category(s) not in ("Cf", "Cs"))
    return " ".join("".join(shown).split())
